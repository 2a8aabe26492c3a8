/** Lamps on their way: what has been moved on the page, and what the server knows of it. */

import { get, post } from './api.js';
import { trying } from './say.js';

export class Moves {
  /** lampsOf(group): its lamps, where they are on the page. took(prop): after a change. */
  constructor(lampsOf, took) {
    this.lampsOf = lampsOf;
    this.took = took;
    this.orders = [];
    this.flight = this.held = undefined;
    this.isBusy = false;
    this.sent = Promise.resolve();
  }

  /** Lamps that have been moved further than the server knows by now stay where they are. before, now: lamps of a group. */
  carry(prop) {
    for (const { group, numbers } of [this.flight, ...this.orders, this.held].filter(Boolean)) {
      const before = this.lampsOf(group), now = prop.lamps.filter((lamp) => lamp.group === group);
      for (const at of numbers.map((number) => number - 1).filter((held) => before[held] && now[held])) {
        Object.assign(now[at], { x_mm: before[at].x_mm, y_mm: before[at].y_mm });
      }
    }
  }

  /** One order at a time; what is moved meanwhile goes with the next. Only lamps that were moved are sent: another tab may move others. */
  send(group, numbers, gesture) {
    const waiting = this.orders.find((order) => order.group === group);
    if (waiting) Object.assign(waiting, { gesture, numbers: [...new Set([...waiting.numbers, ...numbers])] });
    else this.orders.push({ group, numbers, gesture });
    if (!this.isBusy) this.sent = this.sendAll();
  }

  /** Once all that was moved has been answered. */
  settled() {
    return this.sent;
  }

  async sendAll() {
    this.isBusy = true;
    while (this.orders.length) {
      this.flight = this.orders.shift();
      const prop = await trying(() => this.tell(this.flight)) || await trying(() => get('/api/prop'));
      this.flight = undefined;
      if (prop && !this.orders.length) await trying(() => this.took(prop));
    }
    this.isBusy = false;
  }

  /** Where these lamps are now; another tab may have taken some out of the group. */
  tell({ group, numbers, gesture }) {
    const places = this.lampsOf(group), there = numbers.filter((number) => places[number - 1]);
    const moved_mm = Object.fromEntries(there.map((number) => [number, [places[number - 1].x_mm, places[number - 1].y_mm]]));
    return post('/api/lamps', { group, moved_mm, gesture });
  }

  /** Any other order about lamps; gives the prop. */
  async order(order) {
    await this.settled();
    const prop = await post('/api/lamps', order);
    await this.took(prop);
    return prop;
  }
}
