// Rows of a list that are dragged by a handle: with a finger, a pen or a mouse.

const EDGE = 60; // px from the list's ends where it scrolls
const STEP = 12;

// handle: what is taken hold of. row: what moves with it, in the list. dropped(place): where it was let go.
// left(): it was not let go anywhere. begun(): whether it may be dragged now. The row itself stays in the document while the others change sides: an
// element that is taken out loses the pointer.
export function draggable(handle, row, { dropped, left, begun }) {
  let from = -1;
  const list = () => row.parentElement;
  const place = () => [...list().children].indexOf(row);

  function move(event) {
    if (from < 0) return;
    const box = list().getBoundingClientRect();
    if (event.clientY < box.top + EDGE) list().scrollTop -= STEP;
    if (event.clientY > box.bottom - EDGE) list().scrollTop += STEP;
    for (const other of [...list().children]) {
      if (other === row) continue;
      const { top, height } = other.getBoundingClientRect();
      const middle = top + height / 2;
      const above = other.compareDocumentPosition(row) & Node.DOCUMENT_POSITION_FOLLOWING;
      if (above && event.clientY < middle) {
        row.after(other);
        return;
      }
    }
    for (const other of [...list().children].reverse()) {
      if (other === row) continue;
      const { top, height } = other.getBoundingClientRect();
      const below = other.compareDocumentPosition(row) & Node.DOCUMENT_POSITION_PRECEDING;
      if (below && event.clientY > top + height / 2) {
        row.before(other);
        return;
      }
    }
  }

  function end(kept) {
    if (from < 0) return;
    const before = from;
    from = -1;
    delete row.dataset.dragged;
    if (kept && place() !== before) dropped(place());
    else left();
  }

  handle.addEventListener("pointerdown", (event) => {
    if (event.button !== 0 || handle.disabled || !begun()) return;
    handle.setPointerCapture(event.pointerId);
    from = place();
    row.dataset.dragged = "";
  });
  handle.addEventListener("pointermove", move);
  handle.addEventListener("pointerup", () => end(true));
  for (const kind of ["pointercancel", "lostpointercapture"]) handle.addEventListener(kind, () => end(false));
  handle.addEventListener("contextmenu", (event) => event.preventDefault());
}
