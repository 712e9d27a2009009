// Photos that were taken and aren't kept yet: in the browser's own database, in their order, until the computer has them.

import { freshId, send, sender } from "./client.js";
import { join, line, queueChanged } from "./page.js";
import { Queue } from "./queue.js";

const PATIENCE_MS = 30000;

const asked = (request) =>
  new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });

async function opened() {
  const request = indexedDB.open("matrixcheck", 1);
  request.onupgradeneeded = () => request.result.createObjectStore("photos", { keyPath: "id" });
  return asked(request);
}

// A browser that keeps nothing: photos wait in this page alone.
const book = await opened().catch(() => null);
const photos = (mode) => book.transaction("photos", mode).objectStore("photos");
const kept = book ? await asked(photos("readonly").getAll()).catch(() => []) : [];

function remove({ id }) {
  if (book) photos("readwrite").delete(id);
}

export const photoQueue = new Queue({
  store: {
    load: () => kept.sort((one, other) => one.order - other.order),
    // Gives whether it is in the database; an entry knows it as `safe`, a promise.
    save({ state, error, safe, ...entry }) {
      if (!book) return Promise.resolve(false);
      const refused = state === "refused" ? { state, error } : {};
      return asked(photos("readwrite").put({ ...entry, ...refused })).then(() => true, () => false);
    },
    remove,
    drop: remove,
  },
  fresh: freshId,
  async send({ id, path, body }, signal) {
    const query = new URLSearchParams({ ...body.about, ...sender(), send: id });
    const became = await send(`${path}?${query}`, "image/jpeg", body.picture, signal, PATIENCE_MS);
    if (became.kind !== "unanswered") line.hear();
    return became;
  },
  changed: () => queueChanged(),
});

join(photoQueue);
photoQueue.flush();
