// The line to the computer: what it tells as it happens, and whether it is still there.

const SILENT_MS = 2600;
const LOOK_MS = 200;
const ANEW_MS = 2000;

export class Line {
  // `open(address)` gives an EventSource; `news(seq)` hears that the job changed, `answer(number)` that there is a better answer, `turned(silent)` that the line went
  // silent or is back.
  constructor({ job, news = () => {}, answer = () => {}, turned = () => {}, open = (to) => new EventSource(to), now = () => performance.now() }) {
    Object.assign(this, { job, news, answer, turned, open, now });
    this.silent = false;
    this.heard = now();
    this.opened = now();
    this.source = null;
  }

  start() {
    this.connect();
    setInterval(() => this.look(), LOOK_MS);
    // A phone that slept has old connections that may be dead without knowing it.
    document.addEventListener("visibilitychange", () => !document.hidden && this.connect());
    window.addEventListener("pageshow", (event) => event.persisted && this.connect());
    window.addEventListener("online", () => this.connect());
  }

  connect() {
    this.source?.close();
    this.opened = this.now();
    this.source = this.open(`/live?job=${encodeURIComponent(this.job)}`);
    this.source.addEventListener("beat", () => this.hear());
    this.source.addEventListener("seq", ({ data }) => {
      this.hear();
      this.news(Number(data));
    });
    this.source.addEventListener("answer", ({ data }) => this.answer(Number(data)));
  }

  // Something came from the computer, on whatever way.
  hear() {
    this.heard = this.now();
    if (this.silent) {
      this.silent = false;
      this.turned(false);
    }
  }

  look() {
    const now = this.now();
    // Timers stand still while a phone sleeps: then the first look comes late, and says nothing of the line.
    const slept = now - (this.looked ?? now) > 10 * LOOK_MS;
    this.looked = now;
    if (slept) this.heard = now - SILENT_MS / 2;
    if (now - this.heard > SILENT_MS && !this.silent) {
      this.silent = true;
      this.turned(true);
    }
    if (this.silent && now - this.opened > ANEW_MS) this.connect();
  }
}
