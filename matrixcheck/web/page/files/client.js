// Who this phone is, and its way to the computer: one entry out, one answer back.

const DAYS_400 = 400 * 24 * 3600;
const ANSWER_MS = 4000;

function kept(name) {
  try {
    return localStorage.getItem(name);
  } catch {
    return null; // A browser that keeps nothing: the page still works until it is left.
  }
}

function keep(name, value) {
  try {
    localStorage.setItem(name, value);
    return true;
  } catch {
    return false;
  }
}

// 64 bits in hexadecimal. crypto.randomUUID isn't there over plain http.
export function freshId() {
  return Array.from(crypto.getRandomValues(new Uint8Array(8)), (one) => one.toString(16).padStart(2, "0")).join("");
}

function named(cookie) {
  return document.cookie.split("; ").find((one) => one.startsWith(`${cookie}=`))?.slice(cookie.length + 1);
}

// The name that this phone made for itself. The cookie lets the computer draw the page as this phone sees it.
export const client = kept("matrixcheck-client") ?? named("matrixcheck-client") ?? freshId();
keep("matrixcheck-client", client);
document.cookie = `matrixcheck-client=${client}; path=/; max-age=${DAYS_400}; samesite=strict`;

export function initials() {
  return kept("matrixcheck-initials");
}

export function setting(name, otherwise) {
  return kept(`matrixcheck-${name}`) ?? otherwise;
}

export function set(name, value) {
  return keep(`matrixcheck-${name}`, value);
}

// Send an entry. What became of it: {kind: "kept", answer}, {kind: "refused", error}, {kind: "trouble", error} where
// the book can't be written now, {kind: "stranger"}, or {kind: "unanswered"}.
export function post(path, body, signal) {
  return send(path, "application/json", JSON.stringify({ ...body, ...sender() }), signal);
}

// Who sends: this phone, and the person at it.
export function sender() {
  const said = initials();
  return { client, ...(said === null ? {} : { initials: said }) };
}

// Send a body of a type; what became of it, as above. An answer is waited for so many milliseconds.
export async function send(path, type, body, signal, patience = ANSWER_MS) {
  const stop = new AbortController();
  const limit = setTimeout(() => stop.abort(), patience);
  signal?.addEventListener("abort", () => stop.abort());
  let answer;
  let words;
  try {
    answer = await fetch(path, {
      method: "POST",
      headers: { "Content-Type": type },
      body,
      cache: "no-store",
      signal: stop.signal,
    });
    words = await answer.text();
  } catch {
    return { kind: "unanswered" };
  } finally {
    clearTimeout(limit);
  }
  return outcome(answer.status, words);
}

export function outcome(status, words) {
  let read = null;
  try {
    read = JSON.parse(words);
  } catch {
    // Not from our page's own answers: the status has to say it all.
  }
  if (status === 200 && read) return { kind: "kept", answer: read };
  if (status === 403) return { kind: "stranger" };
  if (status === 503 && read?.error) return { kind: "trouble", error: read.error };
  if (status >= 500 || status === 429 || status === 408 || status === 200) return { kind: "unanswered" };
  return { kind: "refused", error: read?.error ?? { what: "the computer can't take this", hint: "drop it" } };
}
