"""What a real browser makes of pages:  python in_browser.py FOLDER, which writes each page's papers beside it and prints the rest as JSON.

A process of its own: a browser that is driven keeps the loop of the process that drives it.
"""

import json
import shutil
import sys
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import sync_playwright

BROWSERS = ("chromium", "chromium-browser", "google-chrome")
WIDTHS = (360, 768, 1920)  # [pixels]
PAPERS = ("A4", "Letter")


def main(folder: Path) -> None:
    told = {}
    found = next(filter(None, map(shutil.which, BROWSERS)))
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=found, args=["--no-sandbox"])
        for file in sorted(folder.glob("*.html")):
            page, said, asked = browser.new_page(), [], []
            page.on("console", lambda message, said=said: said.append(message.text))
            page.on("request", lambda request, asked=asked: asked.append(request.url))
            page.goto(file.as_uri())
            widths = {}
            for width in WIDTHS:
                page.set_viewport_size({"width": width, "height": 800})
                widths[width] = page.evaluate("document.documentElement.scrollWidth")
            page.set_viewport_size({"width": WIDTHS[0], "height": 800})
            violations = [(one["id"], one["nodes"][0]["html"][:80]) for one in Axe().run(page).response["violations"]]
            for paper in PAPERS:
                page.pdf(path=file.with_suffix(f".{paper}.pdf"), format=paper, prefer_css_page_size=True)
            told[file.name] = {"said": said, "asked": asked, "widths": widths, "violations": violations}
            page.close()
        browser.close()
    sys.stdout.write(json.dumps(told))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
