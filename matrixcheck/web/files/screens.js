// What the library's terminal script leaves to the page: the size of a character, fingers, the address, and the banner.
"use strict";

(() => {
  // Pixels of a window that has room for the screens; any other gets the page for a phone.
  const WIDE = 1000;

  // Characters that the screens want: so many columns and rows, or at least so many rows where the window is low.
  const WANTED = { columns: 100, rows: 32, atLeast: 28 };
  const SIZES = [20, 19, 18, 17, 16, 15, 14, 13, 12];
  const COMFORTABLE = 16;

  // Seconds between two questions for a sign of life, and of silence after which the connection counts as lost.
  const ASK_EVERY = 1.5;
  const SILENT_FOR = 6;
  const FONT = "'Roboto Mono'";

  const TROUBLE = {
    4000: ["These screens were closed.", "Everything that was shown as kept is in the bench book."],
    4001: ["The program behind this page has stopped.", "Everything that was shown as kept is in the bench book."],
    4002: ["Too many pages are open already.", "Close one of them, then start anew here."],
    4003: ["The computer has ended matrixcheck serve.", "This page goes on by itself when it is started again."],
    lost: ["The connection to the computer is lost.", "This page goes on by itself when it is back."],
    strange: ["The computer doesn't know this page any more.", "Open the address or scan the code that it shows now."],
  };

  const byId = (id) => document.getElementById(id);

  // The terminal rounds a character's width down and its height up to whole pixels of the device.
  function charactersAt(size, box) {
    const ratio = window.devicePixelRatio;
    const pen = document.createElement("canvas").getContext("2d");
    pen.font = `${size}px ${FONT}`;
    const drawn = pen.measureText("W");
    const width = Math.floor(drawn.width * ratio) / ratio;
    const height = Math.ceil((drawn.fontBoundingBoxAscent + drawn.fontBoundingBoxDescent) * ratio) / ratio;
    return { columns: Math.floor(box.width / width), rows: Math.floor(box.height / height) };
  }

  function largestFittingSize(box) {
    const fitting = (rows) => SIZES.find((size) => {
      const given = charactersAt(size, box);
      return given.columns >= WANTED.columns && given.rows >= rows;
    }) ?? SIZES.at(-1);
    const size = fitting(WANTED.rows);
    return size >= COMFORTABLE ? size : fitting(WANTED.atLeast);
  }

  function announce([says, detail]) {
    byId("stopped-says").textContent = says;
    byId("stopped-detail").textContent = detail;
    byId("stopped").hidden = false;
    byId("anew").focus();
  }

  function whenClosed(event) {
    announce(TROUBLE[event.code] ?? TROUBLE.lost);
    if (event.code >= 4000 && event.code !== 4003) return;
    const asking = setInterval(async () => {
      if (document.hidden) return;
      const inTime = AbortSignal.timeout(3000);
      const answer = await fetch("/alive", { cache: "no-store", signal: inTime }).catch(() => null);
      if (answer === null) return;
      clearInterval(asking);
      if (answer.ok) location.reload();
      else announce(TROUBLE.strange);
    }, 1000);
  }

  // A network that has gone tells a socket nothing for minutes. A page that sleeps isn't silence.
  function watch(socket) {
    let heard = performance.now();
    let asked = heard;
    socket.addEventListener("message", () => { heard = performance.now(); });
    const asking = setInterval(() => {
      const now = performance.now();
      if (now - asked > 2 * ASK_EVERY * 1000) heard = now;
      asked = now;
      if (now - heard < SILENT_FOR * 1000) {
        socket.send(JSON.stringify(["ping", String(Date.now())]));
        return;
      }
      clearInterval(asking);
      socket.removeEventListener("close", whenClosed);
      socket.close();
      whenClosed({});
    }, ASK_EVERY * 1000);
    socket.addEventListener("close", () => clearInterval(asking));
  }

  // The address follows the screens, so that a reload or a bookmark comes back to the same job and matrix.
  function rememberPlace(place) {
    const query = new URLSearchParams(Object.entries(place).filter(([, value]) => value));
    history.replaceState(null, "", query.size ? `/terminal?${query}` : "/terminal");
  }

  // A key of this tab's own, which a reload keeps: the page comes back into the round that it left.
  function pageKey() {
    const fresh = () => Array.from(crypto.getRandomValues(new Uint8Array(8)), (one) => one.toString(16).padStart(2, "0"));
    const key = sessionStorage.getItem("page") ?? fresh().join("");
    sessionStorage.setItem("page", key);
    return key;
  }

  // The library opens its connection without telling anybody; standing in its place lets the page see it as well.
  window.WebSocket = class extends WebSocket {
    constructor(address) {
      const to = new URL(address, location.href);
      to.protocol = location.protocol.replace("http", "ws");
      for (const [name, value] of new URLSearchParams(location.search)) to.searchParams.set(name, value);
      to.searchParams.set("page", pageKey());
      super(to);
      watch(this);
      this.addEventListener("open", () => document.querySelector("#terminal textarea").focus());
      this.addEventListener("close", whenClosed);
      this.addEventListener("message", (event) => {
        if (typeof event.data !== "string") return;
        event.stopImmediatePropagation(); // The library's script has no words of its own for these.
        const [kind, content] = JSON.parse(event.data);
        if (kind === "place") rememberPlace(content);
      });
    }

    // The library's script also sends while nobody listens yet, or any more.
    send(said) {
      if (this.readyState === WebSocket.OPEN) super.send(said);
    }
  };

  function typeWithoutSoftKeyboard(terminal) {
    const keys = terminal.querySelector("textarea");
    const button = byId("keyboard");
    keys.inputMode = "none";
    button.addEventListener("click", () => {
      const wanted = keys.inputMode === "none";
      keys.blur();
      keys.inputMode = wanted ? "text" : "none";
      button.setAttribute("aria-pressed", String(wanted));
      keys.focus();
    });
  }

  function dragToScroll(terminal) {
    const step = 24;
    let from = null;
    terminal.addEventListener("touchstart", (event) => {
      from = event.touches.length === 1 ? event.touches[0].clientY : null;
    }, { passive: true });
    terminal.addEventListener("touchmove", (event) => {
      if (from === null) return;
      const { clientX, clientY } = event.touches[0];
      const screen = terminal.querySelector(".xterm-screen");
      for (; Math.abs(from - clientY) >= step; from -= Math.sign(from - clientY) * step) {
        screen.dispatchEvent(new WheelEvent("wheel", {
          deltaY: Math.sign(from - clientY) * step, clientX, clientY, bubbles: true, cancelable: true,
        }));
      }
    }, { passive: true });
  }

  function offerWholeScreen() {
    const button = byId("whole-screen");
    button.hidden = !document.fullscreenEnabled;
    button.addEventListener("click", () => {
      if (document.fullscreenElement) document.exitFullscreen();
      else document.documentElement.requestFullscreen();
    });
  }

  function goToPage() {
    const narrow = window.innerWidth < WIDE;
    if (narrow) location.replace(`/${location.search}`);
    return narrow;
  }

  // The library fits columns and rows to the page, but keeps the size of its characters. Only a page opened anew, which
  // comes back into its round, gets another. A soft keyboard changes the height alone and is left to the library.
  function sizeAnew(terminal) {
    let width = window.innerWidth;
    let settled;
    window.addEventListener("resize", () => {
      clearTimeout(settled);
      settled = setTimeout(() => {
        if (document.fullscreenElement || window.innerWidth === width) return;
        width = window.innerWidth;
        if (goToPage()) return;
        const size = largestFittingSize(terminal.getBoundingClientRect());
        if (String(size) !== terminal.dataset.fontSize) location.reload();
      }, 400);
    });
  }

  const startTerminal = window.onload;
  window.onload = async (event) => {
    if (goToPage()) return;
    const terminal = byId("terminal");
    await document.fonts.load(`16px ${FONT}`);
    await document.fonts.load(`bold 16px ${FONT}`);
    terminal.dataset.fontSize = largestFittingSize(terminal.getBoundingClientRect());
    startTerminal(event);
    typeWithoutSoftKeyboard(terminal);
    dragToScroll(terminal);
    offerWholeScreen();
    sizeAnew(terminal);
    byId("anew").addEventListener("click", () => location.reload());
  };
})();
