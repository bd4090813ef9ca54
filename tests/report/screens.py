"""Pictures of pages, to be looked at:  python screens.py FOLDER PAGE.html ...

For each page a picture of the screen at each width, with its tables open, and one of each printed sheet; says on the way which parts
move sideways.  Nothing here judges: the tests beside it do.
"""

import json
import shutil
import sys
from pathlib import Path

import pypdfium2
from playwright.sync_api import sync_playwright

BROWSERS = ("chromium", "chromium-browser", "google-chrome")
WIDTHS = (360, 768, 1280, 1920)  # [pixels]
PAPERS = ("A4", "Letter")
SHEET_SCALE = 1.2  # pixels for each point of paper
OPEN = "document.querySelectorAll('details').forEach((one) => { one.open = true; })"
MOVING = """() => [...document.querySelectorAll('[role="region"]')].filter((one) => one.scrollWidth > one.clientWidth + 1)
            .map((one) => one.getAttribute('aria-label'))"""


def main(folder: Path, files: list[Path]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    told = {}
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=next(filter(None, map(shutil.which, BROWSERS))), args=["--no-sandbox"])
        for file in files:
            name, page = f"{file.parent.name}-{file.stem}", browser.new_page()
            told[name] = {"bytes": file.stat().st_size, "moving": {}, "sheets": {}}
            for width in WIDTHS:
                page.set_viewport_size({"width": width, "height": 800})
                page.goto(file.resolve().as_uri())
                page.evaluate(OPEN)
                page.wait_for_timeout(100)
                page.screenshot(path=folder / f"{name}-{width}.png", full_page=True)
                told[name]["moving"][width] = page.evaluate(MOVING)
            page.goto(file.resolve().as_uri())
            for paper in PAPERS:
                printed = folder / f"{name}-{paper}.pdf"
                page.pdf(path=printed, format=paper, prefer_css_page_size=False)
                document = pypdfium2.PdfDocument(printed)
                for number, sheet in enumerate(document, start=1):
                    sheet.render(scale=SHEET_SCALE).to_pil().save(folder / f"{name}-{paper}-{number}.png")
                told[name]["sheets"][paper] = len(document)
                document.close()
            page.close()
        browser.close()
    sys.stdout.write(json.dumps(told, indent=1) + "\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]), list(map(Path, sys.argv[2:])))
