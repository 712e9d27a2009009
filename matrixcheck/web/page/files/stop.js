// A coil is on at rest: nothing is offered but to record that its fuse is out.

import { on, queue } from "./page.js";

const path = `/job/${document.body.dataset.job}/fuse-out`;
document.getElementById("fuse-out")?.addEventListener("click", () => {
  document.getElementById("message").textContent = "sending";
  queue.add({ path, body: {}, words: "coil fuse out" }, (became) => became.kind === "kept" && location.reload());
});
on("news", () => location.reload());
