// One key beside the message, for what may follow the last entry: a reason of one's own, a redo. The next entry ends it.

const key = document.getElementById("offer");
let taken = () => {};

key.addEventListener("click", () => taken());

export function offer(words, does) {
  key.textContent = words;
  key.hidden = false;
  taken = does;
}

export function withdraw() {
  key.hidden = true;
}
