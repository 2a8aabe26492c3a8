/** What is given to others: sound, figure and moving lights of a run, and the whole page as one file. */

import { getFile } from './api.js';
import { make, refocus, spoken } from './make.js';
import { say, trying } from './say.js';

const FILES = {
  'board.wav': 'Sound of the board (WAV)', 'heard.wav': 'Sound at the hand (WAV)', 'figure.png': 'Figure (PNG)', 'lights.gif': 'Moving lights (GIF)',
};
/** Drawn picture by picture, and can be cancelled. */
const LONG = 'lights.gif';
const RUNS = { script: 'The press script', pressed: 'What you have pressed since power-up' };
const KEEP_FILE_MS = 10000;

export class Others {
  /** work: with its bar. settled(): once what was turned has reached the server, so that what is kept is what is seen. */
  constructor(place, work, settled) {
    this.place = place;
    this.work = work;
    this.settled = settled;
    this.run = 'script';
    this.frame_s = 0;
    /** @type {any} */
    this.pressed = null;
    this.powerUp();
    this.buttons = Object.fromEntries(Object.entries(FILES).map(([name, label]) => [name, this.button(label, () => this.keepRun(name))]));
    this.seconds = make('span', {});
    this.script = make('span', {});
    place.replaceChildren(
      make('fieldset', {}, make('legend', {}, 'Sound and pictures of'), ...Object.entries(RUNS).map(([run, label]) => this.choice(run, label))),
      make('div', { class: 'row' }, ...Object.values(this.buttons)),
      make('p', { class: 'small' }, 'The sound at the hand goes through this amplifier and speaker, and is as loud as a file can be. How loud it really is, see '
        + 'under Key numbers and Last seconds. The moving lights last up to 12 s from the first press. Where they flash fast, a warning comes first.'),
      make('p', { class: 'small' }, 'Or save everything as one file with picture, sound and player. It opens in any browser, and nothing can be changed in it.'),
      this.button('Save as one page', () => this.keepPage(), 'export'));
  }

  /** A prop's: without speaker or lamps some files cannot be made. */
  show({ meters, groups, board, scripts: [script] }) {
    this.script.textContent = script ? ` ${spoken(script)}` : ' that shows every trigger';
    this.frame_s = board.samples_per_frame / board.sample_rate_hz;
    this.buttons['heard.wav'].hidden = !meters.sound;
    this.buttons['lights.gif'].hidden = groups.length === 0;
  }

  /** Follows what is played and pressed. */
  heed({ started, frame, taken }) {
    if (started !== undefined) this.powerUp(started);
    if (!taken) return;
    this.pressed.presses.push(...taken.map((press) => [press.frame, press.kind, press.index, press.value]));
    this.pressed.until_frame = frame;
    const seconds = `, ${Math.floor(frame * this.frame_s)} s`;
    if (this.seconds.textContent !== seconds) this.seconds.textContent = seconds;
  }

  powerUp(revision = 0) {
    this.pressed = { revision, until_frame: 0, presses: [] };
  }

  button(label, act, id = '') {
    const button = make('button', { type: 'button', id }, label);
    button.addEventListener('click', () => trying(async () => {
      button.disabled = true;
      try {
        await act();
      } finally {
        button.disabled = false;
        refocus(button);
      }
    }));
    return button;
  }

  choice(run, label) {
    const choice = make('input', { type: 'radio', name: 'run', value: run, checked: run === this.run });
    choice.addEventListener('change', () => { this.run = run; });
    return make('label', { class: 'tick' }, choice, make('span', {}, label, run === 'pressed' ? this.seconds : this.script));
  }

  /** What has been pressed up to now, whatever is pressed later. */
  get pressedNow() {
    return { ...this.pressed, presses: [...this.pressed.presses] };
  }

  async keepRun(name) {
    const pressed = this.run === 'pressed' ? this.pressedNow : undefined;
    await this.settled();
    const making = () => getFile(`/api/run/${name}`, pressed);
    const file = await this.work.run(this.place, name === LONG ? 'lights' : name, `Making ${FILES[name]}`, making, name === LONG);
    if (file) keep(file);
  }

  async keepPage() {
    await this.settled();
    keep(await this.work.run(this.place, 'export', 'Finding how fast each trigger may repeat, for the page', () => getFile('/api/export'), false));
    say('Saved as one page. It plays without a server, also on another machine.');
  }
}

/** Gives a file to whoever is at the browser. */
function keep({ blob, name }) {
  const address = URL.createObjectURL(blob);
  make('a', { href: address, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(address), KEEP_FILE_MS);
  say(`${name} is saved.`);
}
