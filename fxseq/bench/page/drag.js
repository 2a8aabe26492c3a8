/** Dragging: the way of one pointer from press to release, the same for all that is dragged. */

/** How near to something a mouse takes hold of it, and a finger. */
const HOLD_PX = { mouse: 14, touch: 28, pen: 18 };
/** A hand that holds still goes so far. */
const STILL_PX = 3;
const dragged = new WeakSet();

/** Index of the place nearest to a pointer, or -1 where none is near enough. places: [x, y] in pixels from the corner of the element. */
export function nearest({ clientX, clientY, pointerType }, element, places) {
  const { left, top } = element.getBoundingClientRect();
  const ways = places.map(([x, y]) => Math.hypot(x - (clientX - left), y - (clientY - top)));
  const least = Math.min(...ways);
  return least <= (HOLD_PX[pointerType] ?? HOLD_PX.mouse) ? ways.indexOf(least) : -1;
}

/** Whether a press may begin a drag: with the main button or a finger, and no other pointer drags there. */
export function mayDrag(event, element) {
  return event.button === 0 && !dragged.has(element);
}

/**
 * Follows the pointer that has pressed on an element.
 * move(event, across_px, down_px) hears each step once it has left where it was pressed;
 * end({ hasMoved, isGivenUp }) hears when it is let go, or given up: by Escape, or where the browser takes the pointer away.
 */
export function drag(pressed, element, { move, end }) {
  pressed.preventDefault();
  dragged.add(element);
  element.setPointerCapture(pressed.pointerId);
  const listening = new AbortController(), { signal } = listening;
  let hasMoved = false;
  const stop = (isGivenUp) => {
    listening.abort();
    dragged.delete(element);
    if (element.hasPointerCapture(pressed.pointerId)) element.releasePointerCapture(pressed.pointerId);
    end({ hasMoved, isGivenUp });
  };
  const hear = (type, heard) => element.addEventListener(type, (event) => event.pointerId === pressed.pointerId && heard(event), { signal });
  hear('pointermove', (event) => {
    const across_px = event.clientX - pressed.clientX, down_px = event.clientY - pressed.clientY;
    hasMoved ||= Math.hypot(across_px, down_px) > STILL_PX;
    if (hasMoved) move(event, across_px, down_px);
  });
  hear('pointerup', () => stop(false));
  for (const type of ['pointercancel', 'lostpointercapture']) hear(type, () => stop(true));
  addEventListener('keydown', (event) => {
    if (event.key !== 'Escape') return;
    event.preventDefault();
    event.stopPropagation();
    stop(true);
  }, { signal, capture: true });
}
