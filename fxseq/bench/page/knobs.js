/** Handles of a ring or a line of lamps: a ring is moved by its middle, made larger and turned by the handle beyond it; a line by its ends. */

import { drag } from './drag.js';
import { draw } from './make.js';
import { onLine, onRing, tenths } from './shapes.js';
import { keysGesture, newGesture } from './turn.js';
import { snapped } from './view.js';

/** How far beyond the lamps a handle lies, so that it covers none. */
const BEYOND_PX = 34;
const HALF_PX = 8;
const STEP_MM = 1, COARSE = 10;
const KEYS = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const NAMES = { centre: 'Middle of the ring', size: 'Size and turn of the ring', from: 'First end of the line', to: 'Last end of the line' };

export class Knobs {
  /** lamps: of the group. set(path, value, gesture): changes the file. changed(): has all drawn. */
  constructor(overlay, view, lamps, { set, changed }) {
    this.overlay = overlay;
    this.view = view;
    this.lamps = lamps;
    this.set = set;
    this.changed = changed;
    /** @type {any} */
    this.shape = {};
    this.held = this.isTurnSaid = false;
    overlay.addEventListener('keydown', (event) => this.key(event));
  }

  /** group: what the file says of it. */
  show(group) {
    if (this.held) return;
    this.isTurnSaid = group?.ring_mm?.first_at_deg !== undefined;
    this.shape = { ...(group?.ring_mm && { ring: { first_at_deg: 0, ...group.ring_mm } }), ...(group?.line_mm && { line: group.line_mm }) };
  }

  /** Where each handle is, in pixels, by its name. */
  places() {
    const { ring, line } = this.shape;
    if (ring) {
      const centre = this.view.toPx(ring.centre_mm), turn = ring.first_at_deg * Math.PI / 180;
      const reach = ring.radius_mm * this.view.scale + BEYOND_PX;
      return { centre, size: [centre[0] + reach * Math.cos(turn), centre[1] + reach * Math.sin(turn)] };
    }
    if (!line) return {};
    const ends = [line.from_mm, line.to_mm].map((end) => this.view.toPx(end));
    const away = ends[0].map((way, axis) => way - ends[1][axis]), far = Math.hypot(...away) || 1;
    const beyond = (end, sign) => end.map((way, axis) => way + sign * BEYOND_PX * away[axis] / far);
    return { from: beyond(ends[0], 1), to: beyond(ends[1], -1) };
  }

  drawn() {
    return Object.entries(this.places()).map(([name, place]) => this.knob(name, place));
  }

  /** What joins two handles, to lie under the lamps. */
  spoke() {
    const [one, other] = Object.values(this.places());
    return one ? [draw('line', { class: 'spoke', x1: one[0], y1: one[1], x2: other[0], y2: other[1] })] : [];
  }

  knob(name, [x, y]) {
    const kind = draw('rect', { x: -HALF_PX, y: -HALF_PX, width: 2 * HALF_PX, height: 2 * HALF_PX, rx: name === 'size' ? HALF_PX : 2 });
    return draw('g', { class: 'knob', transform: `translate(${x} ${y})`, tabindex: 0, role: 'button', 'data-knob': name,
      'aria-label': `${NAMES[name]}: ${this.told(name)}; arrow keys move it` }, kind);
  }

  told(name) {
    const { ring, line } = this.shape;
    if (name === 'size') return `radius ${ring.radius_mm} mm, first lamp at ${ring.first_at_deg} degrees`;
    const [x, y] = name === 'centre' ? ring.centre_mm : line[`${name}_mm`];
    return `at ${x}, ${y} mm`;
  }

  /** A press on a handle, which is at a place. */
  down(event, name, start) {
    const from = structuredClone(this.shape), gesture = newGesture();
    this.overlay.querySelector(`[data-knob="${name}"]`).focus({ focusVisible: false, preventScroll: true });
    this.hold(true);
    drag(event, this.overlay, {
      move: (_, ...way_px) => this.turn(name, from, start.map((way, axis) => way + way_px[axis]), way_px, gesture),
      end: ({ isGivenUp }) => {
        this.hold(false);
        if (isGivenUp) this.take(from, gesture);
      },
    });
  }

  hold(isHeld) {
    this.held = isHeld;
    this.lamps.moves.held = isHeld ? { group: this.lamps.group, numbers: this.lamps.lamps.map((_, at) => at + 1) } : undefined;
  }

  key(event) {
    const name = event.target.closest('[data-knob]')?.dataset.knob, way = KEYS[event.key];
    if (!name || !way) return;
    event.preventDefault();
    event.stopPropagation();
    const by_px = (this.lamps.grid_mm || STEP_MM) * (event.shiftKey ? COARSE : 1) * this.view.scale;
    const way_px = way.map((sign) => sign * by_px), start = this.places()[name];
    this.turn(name, structuredClone(this.shape), start.map((from, axis) => from + way_px[axis]), way_px, keysGesture(`knob ${this.lamps.group} ${name}`));
  }

  /** A handle goes to a place; way_px: how far that is from where it was. */
  turn(name, from, place_px, way_px, gesture) {
    const { scale } = this.view, moved = (place) => place.map((way, axis) => this.within(way + way_px[axis] / scale, axis));
    if (name === 'size') return this.take({ ring: { ...from.ring, ...this.sized(from.ring, place_px) } }, gesture);
    if (name === 'centre') return this.take({ ring: { ...from.ring, centre_mm: moved(from.ring.centre_mm) } }, gesture);
    return this.take({ line: { ...from.line, [`${name}_mm`]: moved(from.line[`${name}_mm`]) } }, gesture);
  }

  within(way_mm, axis) {
    return tenths(Math.min(Math.max(snapped(way_mm, this.lamps.grid_mm), 0), this.view.size_mm[axis]));
  }

  sized({ centre_mm }, place_px) {
    const away = this.view.toPx(centre_mm).map((way, axis) => place_px[axis] - way);
    const radius_mm = tenths(Math.max(snapped((Math.hypot(...away) - BEYOND_PX) / this.view.scale, this.lamps.grid_mm), 1));
    return { radius_mm, first_at_deg: Math.round(Math.atan2(away[1], away[0]) * 180 / Math.PI) };
  }

  /** Shows a shape at once, and sends of it what is another one. */
  take(shape, gesture) {
    const [[kind, keys]] = Object.entries(shape), before = this.shape[kind];
    this.shape = shape;
    const places = kind === 'ring' ? onRing(keys, this.lamps.lamps.length) : onLine(keys, this.lamps.lamps.length);
    this.lamps.lamps.forEach((lamp, at) => { [lamp.x_mm, lamp.y_mm] = places[at]; });
    this.changed();
    for (const key of Object.keys(keys)) {
      if (String(keys[key]) === String(before[key])) continue;
      // What the file did not say before, and need not say, stays unsaid.
      const isLeftOut = key === 'first_at_deg' && keys[key] === 0 && !this.isTurnSaid;
      this.set(['groups', this.lamps.group, `${kind}_mm`, key], isLeftOut ? null : keys[key], gesture);
    }
  }
}
