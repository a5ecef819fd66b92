// Reads the event stream and fetches the page anew when something happened, at most every other second.
'use strict';
let last = 0, due = null;
async function again() {
  due = null;
  last = Date.now();
  try {
    const answer = await fetch('/', {cache: 'no-store'});
    if (!answer.ok) throw new Error(String(answer.status));
    const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
    document.querySelector('main').replaceWith(page.querySelector('main'));
    document.title = page.title;
  } catch (_) {
    lost();
  }
}
function soon() {
  if (due === null) due = setTimeout(again, Math.max(0, 2000 - (Date.now() - last)));
}
function lost() {
  const line = document.getElementById('link');
  if (line) line.textContent = 'Cut off from the shop: what stands here may be old.';
}
const kinds = ['batch.added', 'batch.cancelled', 'sheet.stage', 'step.answered', 'sheet.signed', 'operation.started',
  'operation.finished', 'part.checked', 'sheet.decided', 'sheet.closed', 'link.up', 'link.down', 'position.lost',
  'person.came', 'person.left', 'call.raised', 'call.answered', 'machine.homed', 'zero.confirmed', 'bit.fitted', 'gap'];
const stream = new EventSource('/v1/events');
for (const kind of kinds) stream.addEventListener(kind, soon);
stream.onerror = lost;
stream.onopen = soon;
setInterval(soon, 30000);
