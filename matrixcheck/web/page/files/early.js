// A form may be sent before the other scripts are there: what was tapped waits here for them.

window.sentEarly = [];

document.addEventListener("submit", (event) => {
  if (event.defaultPrevented || !window.sentEarly) return;
  event.preventDefault();
  window.sentEarly.push([event.target, event.submitter]);
});
