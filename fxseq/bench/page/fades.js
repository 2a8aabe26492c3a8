/** Fades where they are played: one of them on its strip, with its numbers. */

import { FadeStrip } from './fade_strip.js';
import { Hand } from './hand.js';
import { make, spoken } from './make.js';
import { settingField } from './turn.js';

export class Fades {
  constructor(place, orders) {
    this.place = place;
    this.orders = orders;
    this.choice = make('select', { id: 'fade' });
    this.choice.addEventListener('change', () => this.draw());
    this.strip = new FadeStrip(orders, {}, 'play-fade');
    this.hand = new Hand([this.strip.element]);
    this.rows = make('div', {});
    /** By path. @type {Map<string, any>} */
    this.fields = new Map();
    place.replaceChildren(make('div', { class: 'field' }, make('label', { htmlFor: 'fade' }, 'Fade'), this.choice), this.strip.element, this.rows);
  }

  show(prop) {
    this.prop = prop;
    const names = prop.fades.map(({ name }) => name);
    if (names.join() !== this.names) {
      const before = this.choice.value;
      this.choice.replaceChildren(...names.map((name) => make('option', { value: name }, spoken(name))));
      if (names.includes(before)) this.choice.value = before;
      this.names = names.join();
    }
    if (this.hand.isDown) this.hand.putOff(this.orders, () => this.draw());
    else this.draw();
  }

  draw() {
    const { fades } = this.orders.laidOver({ fades: Object.fromEntries(this.prop.fades.map((each) => [each.name, each])) });
    const fade = fades[this.choice.value];
    this.place.hidden = !fade;
    if (!fade) return;
    this.strip.show(fade.name, fade);
    this.showRows(fade);
  }

  /** The same in numbers. */
  showRows(fade) {
    const settings = this.orders.over(this.prop.settings.filter(({ path }) => path[0] === 'fades' && path[1] === fade.name));
    const shape = JSON.stringify(settings.map(({ path }) => path));
    if (shape !== this.shape) this.buildRows(fade, settings);
    this.shape = shape;
    for (const { path, value } of settings) this.fields.get(JSON.stringify(path)).show(value);
  }

  buildRows(fade, settings) {
    this.fields = new Map(settings.map((setting) => [JSON.stringify(setting.path),
      settingField(setting, (value, gesture) => this.orders.set(setting.path, value, gesture))]));
    this.rows.replaceChildren(...fade.segments.map((_, at) => make('fieldset', {}, make('legend', {}, `Segment ${at + 1}`),
      ...settings.filter(({ path }) => path[3] === at).map(({ path }) => this.fields.get(JSON.stringify(path)).element))));
  }
}
