/** What lies under the lamps: the outline of the prop or its photo, and a grid. */

const GROUND = '#07090c', BODY = '#15191f', EDGE = '#606a76', GRID = 'rgb(127 132 140 / .4)';
const LEAST_GRID_PX = 6;

/** corners: of the prop, in pixels. width_px: of the line. */
export function outline(pen, corners, width_px) {
  if (corners.length < 3) return;
  pen.beginPath();
  for (const corner of corners) pen.lineTo(...corner);
  pen.closePath();
  pen.fillStyle = BODY;
  pen.fill();
  pen.strokeStyle = EDGE;
  pen.lineWidth = Math.max(width_px, 1);
  pen.lineJoin = 'round';
  pen.stroke();
}

/** Draws the part that a view shows, the photo as bright as it is. picture: of the prop. grid_mm: 0 for none. */
export function drawGround(canvas, view, { picture, photo, grid_mm }) {
  const ratio = window.devicePixelRatio || 1, [wide, high] = view.box_px;
  canvas.width = Math.max(Math.round(wide * ratio), 1);
  canvas.height = Math.max(Math.round(high * ratio), 1);
  const pen = canvas.getContext('2d', { alpha: false });
  pen.scale(ratio, ratio);
  pen.fillStyle = GROUND;
  pen.fillRect(0, 0, wide, high);
  const [left, top] = view.toPx([0, 0]), [right, bottom] = view.toPx(view.size_mm);
  if (photo) pen.drawImage(photo, left, top, right - left, bottom - top);
  else outline(pen, picture.outline_mm.map((corner) => view.toPx(corner)), view.scale);
  pen.strokeStyle = EDGE;
  pen.lineWidth = 1;
  pen.strokeRect(left, top, right - left, bottom - top);
  if (grid_mm) drawGrid(pen, view, grid_mm);
}

/** Lines that would lie too close are left out by tens. */
function drawGrid(pen, view, grid_mm) {
  let step_mm = grid_mm;
  while (step_mm * view.scale < LEAST_GRID_PX) step_mm *= 10;
  const [from, to] = view.seen();
  pen.beginPath();
  for (const axis of [0, 1]) {
    for (let way = Math.ceil(from[axis] / step_mm) * step_mm; way <= to[axis]; way += step_mm) {
      const ends = [from, to].map((end) => view.toPx(end.map((other, place) => (place === axis ? way : other))));
      pen.moveTo(...ends[0].map((px) => Math.round(px) + 0.5));
      pen.lineTo(...ends[1].map((px) => Math.round(px) + 0.5));
    }
  }
  pen.strokeStyle = GRID;
  pen.stroke();
}
