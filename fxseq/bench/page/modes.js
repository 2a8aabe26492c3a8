/** What is done with the prop: it is played, built, or its lamps are placed. */

/** Class of the page by mode. */
const CLASSES = { build: 'building', place: 'placing' };

export class Modes {
  /** place: with a button for each mode. entered(mode): another one has begun. */
  constructor(place, entered) {
    this.buttons = [...place.querySelectorAll('button')];
    this.entered = entered;
    for (const button of this.buttons) button.addEventListener('click', () => this.enter(button.value));
  }

  enter(mode) {
    for (const [name, word] of Object.entries(CLASSES)) document.body.classList.toggle(word, name === mode);
    for (const button of this.buttons) button.setAttribute('aria-pressed', String(button.value === mode));
    scrollTo(0, 0);
    this.entered(mode);
    dispatchEvent(new Event('resize'));
  }
}
