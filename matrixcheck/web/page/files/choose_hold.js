// The switches to hold, as they were typed, in the address of the round: the computer reads them, and says what can't be.

const byId = (id) => document.getElementById(id);

function hold() {
  const numbers = byId("held").value.trim();
  if (numbers) location.assign(`${byId("choose-hold").dataset.base}?held=${encodeURIComponent(numbers)}`);
  else byId("held").focus();
}

byId("hold-these").addEventListener("click", hold);
byId("held").addEventListener("keydown", (event) => event.key === "Enter" && hold());
