"""A real Chromium without a window, driven over its devtools protocol."""

import asyncio
import contextlib
import itertools
import shutil
from base64 import b64decode
from pathlib import Path

import aiohttp

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "chrome"))), None)
NO_CHROMIUM = "Chromium is not installed here."

_READ_TERMINAL = """function () {
    const buffer = this.terminal.buffer.active;
    const lines = [];
    for (let row = 0; row < this.terminal.rows; row++) {
        lines.push(buffer.getLine(buffer.viewportY + row).translateToString(true));
    }
    return lines.join("\\n");
}"""


class Page:
    """One page: what it loads (`requests`), what it complains of (`complaints`), and its text."""

    def __init__(self, socket):
        self._socket = socket
        self._numbers = itertools.count(1)
        self._waiting = {}
        self.requests = []
        self.complaints = []
        self._reading = asyncio.create_task(self._read())

    async def _read(self):
        async for message in self._socket:
            told = message.json()
            if "id" in told:
                self._waiting.pop(told["id"]).set_result(told)
            elif told["method"] == "Network.requestWillBeSent":
                self.requests.append(told["params"]["request"]["url"])
            elif told["method"] == "Network.webSocketCreated":
                self.requests.append(told["params"]["url"])
            elif told["method"] == "Log.entryAdded":
                self.complaints.append(told["params"]["entry"]["text"])

    async def ask(self, method, **params):
        number = next(self._numbers)
        self._waiting[number] = asyncio.get_running_loop().create_future()
        await self._socket.send_json({"id": number, "method": method, "params": params})
        answer = await asyncio.wait_for(self._waiting[number], 20)
        assert "error" not in answer, answer
        return answer["result"]

    async def begin(self):
        for domain in ("Page", "Network", "Log", "Runtime"):
            await self.ask(f"{domain}.enable")

    async def close(self):
        self._reading.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await self._reading
        await self._socket.close()

    async def open(self, url):
        await self.ask("Page.navigate", url=url)

    async def value(self, expression):
        result = await self.ask("Runtime.evaluate", expression=expression, returnByValue=True)
        return result["result"].get("value")

    async def text(self):
        """The text of the page itself, without what a terminal draws."""
        return await self.value("document.body ? document.body.innerText : ''")

    async def type(self, text):
        for character in text:
            await self.ask("Input.dispatchKeyEvent", type="char", text=character)

    async def press(self, key, code, text=""):
        key_is = {"key": key, "code": key, "windowsVirtualKeyCode": code}
        down = {"type": "keyDown", "text": text} if text else {"type": "rawKeyDown"}
        await self.ask("Input.dispatchKeyEvent", **down, **key_is)
        await self.ask("Input.dispatchKeyEvent", type="keyUp", **key_is)

    async def enter(self):
        await self.press("Enter", 13, "\r")

    async def terminal(self):
        """What the terminal on the page shows, from its own buffer; "" while there is none.

        The page keeps it in a closure: the debugger finds its class in the scopes of the handler
        that makes it, and then the one object of that class.
        """
        handler = (await self.ask("Runtime.evaluate", expression="window.onload"))["result"]
        if "objectId" not in handler:
            return ""
        for scope in await self._scopes(handler["objectId"]):
            made = await self._object_made(scope)
            if made is not None:
                read = await self.ask(
                    "Runtime.callFunctionOn",
                    objectId=made,
                    functionDeclaration=_READ_TERMINAL,
                    returnByValue=True,
                )
                return read["result"].get("value", "")
        return ""

    async def _scopes(self, handler):
        own = await self.ask("Runtime.getProperties", objectId=handler, ownProperties=True)
        hidden = {each["name"]: each["value"] for each in own["internalProperties"]}
        scopes = await self.ask(
            "Runtime.getProperties", objectId=hidden["[[Scopes]]"]["objectId"], ownProperties=True
        )
        kept = [each["value"] for each in scopes["result"] if each["name"].isdigit()]
        return [each["objectId"] for each in kept if each.get("description") != "Global"]

    async def _object_made(self, scope):
        inside = await self.ask("Runtime.getProperties", objectId=scope, ownProperties=True)
        for each in inside["result"]:
            value = each.get("value", {})
            if value.get("className") != "Function" or "sendSize" not in value["description"]:
                continue
            prototype = await self.ask(
                "Runtime.callFunctionOn",
                objectId=value["objectId"],
                functionDeclaration="function () { return this.prototype; }",
            )
            if "objectId" not in prototype["result"]:
                continue
            found = await self.ask(
                "Runtime.queryObjects", prototypeObjectId=prototype["result"]["objectId"]
            )
            first = await self.ask(
                "Runtime.callFunctionOn",
                objectId=found["objects"]["objectId"],
                functionDeclaration="function () { return this[0]; }",
            )
            return first["result"].get("objectId")
        return None

    async def see(self, words, read=None, seconds=20):
        """Wait until words are on the terminal, or in what `read` reads; fail if they do not
        come."""
        read = read or self.terminal
        seen = ""
        for _ in range(int(seconds / 0.2)):
            seen = await read() or ""
            if words in seen:
                return seen
            await asyncio.sleep(0.2)
        raise AssertionError(f"{words!r} is not on the page:\n{seen}\n{await self.text()}")

    async def picture(self, path):
        taken = await self.ask("Page.captureScreenshot", format="png")
        Path(path).write_bytes(b64decode(taken["data"]))


@contextlib.asynccontextmanager
async def chromium(profile, *flags, host="127.0.0.1"):
    """A page of a browser with a profile of its own, which reaches nothing but `host`."""
    process = await asyncio.create_subprocess_exec(
        CHROMIUM,
        "--headless=new",
        "--no-sandbox",
        "--no-first-run",
        "--enable-unsafe-swiftshader",
        "--remote-debugging-port=0",
        f"--user-data-dir={profile}",
        "--window-size=1280,800",
        f"--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE {host}",
        *flags,
        "about:blank",
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.DEVNULL,
        stderr=asyncio.subprocess.DEVNULL,
    )
    try:
        async with aiohttp.ClientSession() as client:
            port = await _port(Path(profile) / "DevToolsActivePort")
            pages = await (await client.get(f"http://127.0.0.1:{port}/json/list")).json()
            address = next(e["webSocketDebuggerUrl"] for e in pages if e["type"] == "page")
            page = Page(await client.ws_connect(address, max_msg_size=0))
            try:
                await page.begin()
                yield page
            finally:
                await page.close()
    finally:
        process.terminate()
        await process.wait()


async def _port(file):
    for _ in range(150):
        with contextlib.suppress(OSError, IndexError):
            return int(file.read_text().split()[0])
        await asyncio.sleep(0.1)
    raise AssertionError("Chromium has not started.")
