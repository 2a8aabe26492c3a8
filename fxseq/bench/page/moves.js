/** Lamps on their way: what has been moved on the page, and what the server knows of it. */

import { trying } from './say.js';

export class Moves {
  /** lampsOf(group): its lamps, where they are on the page. */
  constructor(lampsOf, orders) {
    this.lampsOf = lampsOf;
    this.orders = orders;
    /** Those under the hand, {group, numbers}. @type {any} */
    this.held = undefined;
  }

  /** Lamps that have been moved further than the server knows by now stay where they are. before, now: lamps of a group. */
  carry(prop) {
    for (const { group, numbers } of [...this.orders.pending.map(({ lamps }) => lamps), this.held].filter(Boolean)) {
      const before = this.lampsOf(group), now = prop.lamps.filter((lamp) => lamp.group === group);
      for (const at of numbers.map((number) => number - 1).filter((held) => before[held] && now[held])) {
        Object.assign(now[at], { x_mm: before[at].x_mm, y_mm: before[at].y_mm });
      }
    }
  }

  /** What is moved while an order waits goes with it, if it is the last. Only lamps that were moved are sent: another tab may move others. */
  send(group, numbers, gesture) {
    const { lamps: waiting } = this.orders.waiting.at(-1) || {};
    if (waiting?.group === group) return Object.assign(waiting, { gesture, numbers: [...new Set([...waiting.numbers, ...numbers])] });
    const lamps = { group, numbers, gesture };
    return trying(() => this.orders.ask('/api/lamps', () => this.told(lamps), { lamps }));
  }

  /** Where these lamps are now; another tab may have taken some out of the group. */
  told({ group, numbers, gesture }) {
    const places = this.lampsOf(group), there = numbers.filter((number) => places[number - 1]);
    const moved_mm = Object.fromEntries(there.map((number) => [number, [places[number - 1].x_mm, places[number - 1].y_mm]]));
    return { group, moved_mm, gesture };
  }
}
