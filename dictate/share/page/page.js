// Keys go to the terminal without a click on it first.
const focusTerminal = () => document.querySelector(".xterm-helper-textarea")?.focus();
window.addEventListener("load", () => setTimeout(focusTerminal));
window.addEventListener("focus", focusTerminal);

// What is shown may be old where nothing comes any more, and a browser notices that late.
const ASKED_EVERY_MS = 2000;
const SILENT_FOR_MS = 6000;
let heardAt = Date.now();
window.WebSocket = class extends WebSocket {
  constructor(...address) {
    super(...address);
    this.addEventListener("message", () => { heardAt = Date.now(); });
    setInterval(() => {
      if (this.readyState === WebSocket.OPEN) this.send(JSON.stringify(["ping", `${Date.now()}`]));
      const silent = Date.now() - heardAt > SILENT_FOR_MS;
      document.body.classList.toggle("-silent", silent);
    }, ASKED_EVERY_MS);
  }
};
