/** Lamps of one group on the picture: moved and chosen by hand or by keys. What is done with chosen ones is in chosen.js. */

import { drag, nearest } from './drag.js';
import { codes } from './glow.js';
import { draw } from './make.js';
import { tenths } from './shapes.js';
import { keysGesture, newGesture } from './turn.js';
import { snapped } from './view.js';

const STEP_MM = 0.5, COARSE = 10;
/** Lamps are drawn as large as they are, but not smaller. */
const LEAST_PX = 9, LEAST_OTHER_PX = 5;
const LABEL_PX = 11;
const KEYS = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

export class Lamps {
  /**
   * overlay: an svg as large as the view. chosen: of the group. moves: sends what was moved. changed(): has all drawn.
   * look(group): goes to another group.
   */
  constructor(overlay, view, { chosen, moves, changed, look }) {
    this.overlay = overlay;
    this.view = view;
    this.chosen = chosen;
    this.moves = moves;
    this.changed = changed;
    this.look = look;
    this.group = '';
    this.grid_mm = 0; // 0 for none
    this.prop = this.frame = undefined;
    this.isDrawing = false;
    overlay.addEventListener('keydown', (event) => this.key(event));
    overlay.addEventListener('focusin', ({ target }) => this.seek(target));
  }

  of(group) {
    return this.prop?.lamps.filter((lamp) => lamp.group === group) ?? [];
  }

  get lamps() {
    return this.of(this.group);
  }

  places(numbers) {
    const { lamps } = this;
    return numbers.map((number) => [lamps[number - 1].x_mm, lamps[number - 1].y_mm]);
  }

  /** Its drawing: those of other groups under those of the chosen one. */
  drawn() {
    const others = this.prop.lamps.filter(({ group }) => group !== this.group);
    const frame = this.frame ? [draw('rect', { class: 'frame', ...this.frame })] : [];
    return [...others.map((lamp) => this.other(lamp)), ...this.lamps.map((lamp, at) => this.handle(lamp, at)), ...frame];
  }

  px({ x_mm, y_mm }) {
    return this.view.toPx([x_mm, y_mm]);
  }

  other(lamp) {
    const [cx, cy] = this.px(lamp);
    return draw('circle', { class: 'other', cx, cy, r: Math.max(lamp.size_mm / 2 * this.view.scale, LEAST_OTHER_PX), fill: `rgb(${codes(lamp.rgb)})` });
  }

  handle(lamp, at) {
    const turn = this.chosen.turnOf(at + 1), chosen = turn ? `, chosen as number ${turn}` : '';
    const label = draw('text', { 'text-anchor': 'middle', y: LABEL_PX * 0.36, 'font-size': LABEL_PX });
    label.textContent = at + 1;
    return draw('g', {
      transform: `translate(${this.px(lamp)})`, tabindex: 0, role: 'button', 'data-at': at, 'aria-pressed': Boolean(turn),
      'aria-label': `Lamp ${at + 1} at ${lamp.x_mm.toFixed(1)}, ${lamp.y_mm.toFixed(1)} mm${chosen}: arrow keys move it, Enter chooses it`,
    }, draw('circle', { r: Math.max(lamp.size_mm / 2 * this.view.scale, LEAST_PX), stroke: `rgb(${codes(lamp.rgb)})` }), label);
  }

  /** A lamp that the keyboard has reached is brought into sight. */
  seek(target) {
    const lamp = this.lamps[target.dataset.at];
    if (lamp && !this.isDrawing && target.matches(':focus-visible') && this.view.seek([lamp.x_mm, lamp.y_mm])) this.changed();
  }

  /** Numbers of the lamps that move with this one. */
  together(at) {
    return this.chosen.turnOf(at + 1) ? this.chosen.numbers : [at + 1];
  }

  key(event) {
    if (event.key === 'Escape') return this.chosen.clear();
    const at = Number(event.target.closest('[data-at]')?.dataset.at ?? -1);
    if (at < 0) return undefined;
    const way = KEYS[event.key];
    if (!way && event.key !== 'Enter' && event.key !== ' ') return undefined;
    event.preventDefault();
    event.stopPropagation();
    if (!way) return event.repeat ? undefined : this.chosen.toggle(at + 1);
    const by_mm = (this.grid_mm || STEP_MM) * (event.shiftKey ? COARSE : 1), numbers = this.together(at);
    this.put(this.from(numbers), way.map((sign) => sign * by_mm), this.places([at + 1])[0]);
    return this.moves.send(this.group, numbers, keysGesture(`lamp ${this.group} ${numbers.join()}`));
  }

  /** A press on a lamp of the group; -1: on one of another group, or beside all of them. */
  down(event, at) {
    const others = at < 0 ? this.prop.lamps.filter(({ group }) => group !== this.group) : [];
    const other = others[nearest(event, this.overlay, others.map((lamp) => this.px(lamp)))];
    if (other) {
      event.preventDefault();
      return this.look(other.group);
    }
    return at < 0 ? this.frameFrom(event) : this.hold(event, at);
  }

  hold(event, at) {
    const numbers = this.together(at), from = this.from(numbers), [lead] = this.places([at + 1]), { scale } = this.view;
    this.moves.held = { group: this.group, numbers };
    this.overlay.querySelector(`[data-at="${at}"]`).focus({ focusVisible: false, preventScroll: true });
    drag(event, this.overlay, {
      move: (_, across_px, down_px) => this.put(from, [across_px / scale, down_px / scale], lead),
      end: ({ hasMoved, isGivenUp }) => {
        this.moves.held = undefined;
        if (isGivenUp) this.put(from, [0, 0]);
        else if (hasMoved) this.moves.send(this.group, numbers, newGesture());
        else this.chosen.toggle(at + 1);
      },
    });
  }

  /** A frame drawn across the picture chooses what lies in it. */
  frameFrom(event) {
    const { left, top } = this.overlay.getBoundingClientRect(), start = [event.clientX - left, event.clientY - top];
    drag(event, this.overlay, {
      move: (_, ...way) => {
        const [x, y] = start.map((from, axis) => Math.min(from, from + way[axis])), [width, height] = way.map(Math.abs);
        this.frame = { x, y, width, height };
        this.changed();
      },
      end: ({ isGivenUp }) => {
        const { frame } = this;
        this.frame = undefined;
        if (isGivenUp) this.changed();
        else if (frame) this.chosen.add(this.within(frame));
        else this.chosen.clear();
      },
    });
  }

  within({ x, y, width, height }) {
    const isIn = ([across, down]) => across >= x && across <= x + width && down >= y && down <= y + height;
    return this.lamps.flatMap((lamp, at) => (isIn(this.px(lamp)) ? [at + 1] : []));
  }

  from(numbers) {
    return this.places(numbers).map((place, turn) => ({ number: numbers[turn], place }));
  }

  /** Lamps as far from where they were, within the picture and without losing their order, in tenths of a millimetre. lead: which meets the grid. */
  put(from, way, lead) {
    const { lamps } = this, size_mm = this.view.size_mm;
    ['x_mm', 'y_mm'].forEach((key, axis) => {
      const places = from.map(({ place }) => place[axis]);
      const wanted = lead && way[axis] ? snapped(lead[axis] + way[axis], this.grid_mm) - lead[axis] : way[axis];
      const by = Math.max(-Math.min(...places), Math.min(size_mm[axis] - Math.max(...places), wanted));
      // One that another tab has taken out meanwhile is passed over.
      from.filter(({ number }) => lamps[number - 1]).forEach(({ number, place }) => { lamps[number - 1][key] = tenths(place[axis] + by); });
    });
    this.changed();
  }

  /** Lamps put to places, in turn, as one step. */
  lay(numbers, places) {
    const { lamps } = this, size_mm = this.view.size_mm;
    numbers.forEach((number, turn) => {
      const [x_mm, y_mm] = places[turn].map((way, axis) => tenths(Math.min(Math.max(way, 0), size_mm[axis])));
      Object.assign(lamps[number - 1], { x_mm, y_mm });
    });
    this.changed();
    this.moves.send(this.group, numbers, newGesture());
  }
}
