"""Pictures of every page for people to look at: `python -m tests.browser.pictures FOLDER [WORDS …]`.

Builds the small demo in a place of its own and saves each page at 360, 768 and 1440 px, light and dark. With WORDS,
only pages whose name holds one of them.
"""

import os
import re
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.browser.addresses import Stop
    from tests.browser.steps import Visitor


def main(folder: Path, words: Sequence[str]) -> None:
    """Settings are read once, so the demo's own place is named before Django starts."""
    with tempfile.TemporaryDirectory() as place:
        os.environ |= {
            "DJANGO_SETTINGS_MODULE": "studio.settings",
            "DJANGO_ALLOW_ASYNC_UNSAFE": "true",
            "MENISCUS_DATA": place,
        }
        os.environ.pop("DATABASE_URL", None)
        import django

        django.setup()
        _save_all(folder, words)


def _save_all(folder: Path, words: Sequence[str]) -> None:
    from django.core.management import call_command
    from pytest_django.live_server_helper import LiveServer

    from tests.browser.addresses import DOOR, stops
    from tests.browser.chromium import EVERY_SCREEN, chromium
    from tests.browser.demo import OWNER, build_small_demo
    from tests.browser.steps import Visitor

    call_command("migrate", verbosity=0)
    build_small_demo()
    chosen = [stop for stop in stops() if not words or any(word in str(stop) for word in words)]
    folder.mkdir(parents=True, exist_ok=True)
    live = LiveServer("localhost")
    with chromium() as browser:
        for screen in EVERY_SCREEN:
            context = browser.new_context(base_url=live.url, **screen.options)
            she = Visitor(context.new_page(), screen)
            _save(she, DOOR, folder)
            she.sign_in(OWNER.username, OWNER.phrase)
            for stop in chosen:
                _save(she, stop, folder)
            context.close()
    live.stop()
    print(f"{(1 + len(chosen)) * len(EVERY_SCREEN)} pictures are in {folder}.")


def _save(she: "Visitor", stop: "Stop", folder: Path) -> None:
    """A picture as high as the page: else the bar at a phone's lower edge would lie over the page's middle."""
    page, screen = she.page, she.screen
    page.goto(stop.address())
    height = page.evaluate("document.documentElement.scrollHeight")
    page.set_viewport_size({"width": screen.width, "height": max(height, screen.height)})
    name = re.sub(r"\W+", "-", str(stop)) + f"-{screen.width}-{screen.scheme}.png"
    page.screenshot(path=folder / name)
    page.set_viewport_size({"width": screen.width, "height": screen.height})


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    main(Path(sys.argv[1]), sys.argv[2:])
