/** Which part of the picture is looked at, and how large: millimetres of the prop to pixels of the screen, and back. Draws nothing. */

const MOST_ZOOM = 24;
/** Room around the whole picture, as a part of it. */
const MARGIN = 0.06;
/** How far the picture's edge may come in when it is scrolled. */
const LOOSE_PX = 40;

export class View {
  constructor() {
    this.zoom = 1;
    this.size_mm = [1, 1];
    this.box_px = [1, 1];
    this.middle_mm = [0.5, 0.5];
  }

  /** The picture, and the box that it is seen in. What is in the middle stays there. */
  lay(size_mm, box_px) {
    const isOther = size_mm.join() !== this.size_mm.join();
    this.size_mm = size_mm;
    this.box_px = box_px;
    if (isOther) this.whole();
    this.hold();
  }

  /** The whole picture again. */
  whole() {
    this.zoom = 1;
    this.hold();
  }

  /** Pixels of a millimetre. */
  get scale() {
    const [across, down] = this.size_mm.map((side, axis) => this.box_px[axis] / side);
    return this.zoom * (1 - MARGIN) * Math.min(across, down);
  }

  toPx(place_mm) {
    return place_mm.map((way, axis) => this.box_px[axis] / 2 + (way - this.middle_mm[axis]) * this.scale);
  }

  toMm(place_px) {
    return place_px.map((way, axis) => this.middle_mm[axis] + (way - this.box_px[axis] / 2) / this.scale);
  }

  /** Larger or smaller by a factor; what is at the place stays there. Whether anything has changed. */
  zoomAt(place_px, factor) {
    const before = this.zoom, held_mm = this.toMm(place_px);
    this.zoom = Math.min(Math.max(before * factor, 1), MOST_ZOOM);
    const now_mm = this.toMm(place_px);
    this.middle_mm = this.middle_mm.map((way, axis) => way + held_mm[axis] - now_mm[axis]);
    this.hold();
    return this.zoom !== before;
  }

  /** The picture goes so far along. */
  scroll(...way_px) {
    this.middle_mm = this.middle_mm.map((way, axis) => way - way_px[axis] / this.scale);
    this.hold();
  }

  /** Brings a place into sight. */
  seek(place_mm) {
    const isOut = this.toPx(place_mm).some((way, axis) => way < 0 || way > this.box_px[axis]);
    if (isOut) this.middle_mm = [...place_mm];
    this.hold();
    return isOut;
  }

  /** The part of the picture that is seen: its corners. [mm] */
  seen() {
    const corners = [this.toMm([0, 0]), this.toMm(this.box_px)];
    return corners.map((corner) => corner.map((way, axis) => Math.min(Math.max(way, 0), this.size_mm[axis])));
  }

  /** The picture stays in the box or covers it, and is in its middle where it is seen whole. */
  hold() {
    this.middle_mm = this.middle_mm.map((way, axis) => {
      const half_mm = (this.box_px[axis] / 2 - LOOSE_PX) / this.scale, size_mm = this.size_mm[axis];
      const ends = [half_mm, size_mm - half_mm];
      return this.zoom === 1 ? size_mm / 2 : Math.min(Math.max(way, Math.min(...ends)), Math.max(...ends));
    });
  }
}

/** A way to the nearest line of a grid; as it is where there is none. */
export function snapped(way_mm, grid_mm) {
  return grid_mm ? Math.round(way_mm / grid_mm) * grid_mm : way_mm;
}
