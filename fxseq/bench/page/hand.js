/** A hand that presses: what it drags, or is about to click, must not be drawn anew under it. */

/** A finger is let go so long before what it was on is clicked. */
const CLICK_WITHIN_MS = 50;

export class Hand {
  /** places: elements on which it counts. */
  constructor(places) {
    this.places = places;
    this.isDown = this.isPutOff = false;
    /** Resolves once it is let go, and has clicked. @type {Promise<unknown>} */
    this.free = Promise.resolve();
    /** @type {(value?: unknown) => void} */
    this.done = () => {};
    /** @type {number | undefined} */
    this.leaving = undefined;
    const hear = (type, heard) => addEventListener(type, heard, { capture: true });
    hear('pointerdown', (event) => this.take(event));
    for (const type of ['pointerup', 'pointercancel']) hear(type, () => this.leave());
    // It may be let go outside of the window, or on the list of a menu.
    hear('pointermove', ({ buttons }) => buttons === 0 && this.leave());
    hear('change', ({ target }) => target.tagName === 'SELECT' && this.leave());
    // The space bar clicks when it is let go.
    hear('keydown', (event) => event.key === ' ' && this.take(event));
    hear('keyup', ({ key }) => key === ' ' && this.leave());
    addEventListener('blur', () => this.leave());
  }

  /** Sliders are never drawn anew; what stands beside one follows it. */
  take({ target }) {
    if (target.type === 'range' || !this.places.some((place) => place.contains(target))) return;
    clearTimeout(this.leaving);
    this.leaving = undefined;
    if (this.isDown) return;
    this.isDown = true;
    this.free = new Promise((done) => { this.done = done; });
  }

  leave() {
    if (!this.isDown || this.leaving !== undefined) return;
    this.leaving = setTimeout(() => {
      this.isDown = false;
      this.leaving = undefined;
      this.done();
    }, CLICK_WITHIN_MS);
  }

  /** Has what an answer says drawn once nothing is held, and nothing is on its way that the answer does not have in it. */
  async putOff(orders, draw) {
    if (this.isPutOff) return;
    this.isPutOff = true;
    while (this.isDown || orders.isSending) {
      await orders.settled();
      await this.free;
    }
    this.isPutOff = false;
    await draw();
  }
}
