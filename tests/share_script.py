"""Runs a charting screen that nobody sees, for tests of its processes.

`python -m tests.share_script [share]` prints what was opened, or what a person would read off the
screen: the address, the code for looking on, and the code for writing.
"""

import asyncio
import sys

opened = []


def _note_opened(event, arguments):
    if event in ("socket.bind", "socket.connect", "subprocess.Popen"):
        opened.append(event)


async def _chart():
    from dictate.screen.app import ChartingApp
    from tests.screen_pilot import enter, session_of

    async with ChartingApp(session_of()).run_test() as pilot:
        await enter(pilot, "208 calculus 2")


async def _share():
    from dictate.screen.second_screen import SecondScreen
    from dictate.screen.sharing import SharingApp
    from dictate.share.address import ShareAddress
    from tests.screen_pilot import session_of

    app = SharingApp(session_of(), address=ShareAddress("127.0.0.1"))
    async with app.run_test() as pilot:
        panel = app.query_one(SecondScreen)
        while not (panel.serving and panel.code):
            await pilot.pause(0.05)
        print(panel.serving.url, panel.code.code, app._hub.gate.code, *opened, flush=True)
        await asyncio.sleep(60)


if __name__ == "__main__":
    sys.addaudithook(_note_opened)
    if "share" in sys.argv:
        asyncio.run(_share())
    else:
        asyncio.run(_chart())
        serving = ("aiohttp", "textual_serve", "cryptography", "dictate.share.hub")
        print(opened, [each for each in serving if each in sys.modules])
