"""Which types each command's JSON document is made of, and the option that prints its JSON Schema."""

import inspect
from collections.abc import Callable
from functools import wraps
from typing import Annotated, Any

import typer

from viz.cli import shell

SHAPES = "viz.cli.shapes"
# Of a command the kinds of document, each with the types whose fields it holds side by side; opened when a schema is asked for.
DOCUMENTS: dict[str, tuple[tuple[str, ...], ...]] = {
    "run": (("sim.study.summary:RunSummary", f"{SHAPES}:Paces"),),
    "angles": (("sim.study.angles:AnglesResult", f"{SHAPES}:Checklist"),),
    "corner": (("sim.study.corner:CornerResult", f"{SHAPES}:Mapped"),),
    "assemble": (("sim.assemble.figures:AssembleResult",),),
    "template": (("sim.template.result:TemplateResult",),),
    "bench": (("sim.bench.result:BenchResult",), ("sim.bench.result:PlanResult",)),
    "knock": (("sim.study.knock:KnockResult",),),
    "coast": (("sim.coast.result:StraightCoast",), ("sim.coast.result:CircleCoast",)),
    "search": (("sim.search.result:SearchResult", "viz.search.numbers:Pasted"),),
    "spread": (("viz.spread.numbers:SpreadNumbers",),),
    "contest": (("sim.contest.results:ContestResult",), (f"{SHAPES}:CopiedContest",)),
    "watch": ((f"{SHAPES}:Written",),),
    "report": ((f"{SHAPES}:RunPages",),),
    "lesson": ((f"{SHAPES}:LessonList",), (f"{SHAPES}:WrittenLessons",)),
    "words": ((f"{SHAPES}:WordList",), (f"{SHAPES}:Written",)),
    "new": ((f"{SHAPES}:Begun",),),
    "measure": ((f"{SHAPES}:Sheets",),),
    "manual": ((f"{SHAPES}:PageList",), (f"{SHAPES}:PageText",), (f"{SHAPES}:WrittenManual",)),
}


def schema_of(command: str) -> dict[str, Any]:
    """The JSON Schema of what `scrubwise COMMAND --json` prints.  command : one of DOCUMENTS."""
    from importlib import import_module

    from viz.shared.documents import json_schema

    def opened(place: str) -> type:
        module, _, name = place.partition(":")
        return getattr(import_module(module), name)

    return json_schema(command, [[opened(place) for place in parts] for parts in DOCUMENTS[command]])


def described(command: Callable[..., None]) -> Callable[..., None]:
    """A command that knows which document it prints, with the option --schema.  command : a function of one of the command files."""
    name = command.__name__

    def tell(asked: bool) -> None:
        if asked:
            import json

            shell.write(json.dumps(schema_of(name), indent=2) + "\n")
            raise typer.Exit

    @wraps(command)
    def run(*words: Any, schema: bool = False, **options: Any) -> None:
        shell.document = name
        command(*words, **options)

    if name in DOCUMENTS:
        option = typer.Option("--schema", is_eager=True, callback=tell, help="Print the JSON Schema of what --json prints, and exit.")
        signature = inspect.signature(command)
        asked = inspect.Parameter("schema", inspect.Parameter.KEYWORD_ONLY, default=False, annotation=Annotated[bool, option])
        run.__signature__ = signature.replace(parameters=[*signature.parameters.values(), asked])  # type: ignore[attr-defined]
    return run
