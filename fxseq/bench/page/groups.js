/** Groups of lamps beside the picture: which there are, and of the chosen one how many lamps it has, how they lie and how they are wired. */

import { get } from './api.js';
import { ask } from './ask.js';
import { act, nameOf } from './form.js';
import { codes } from './glow.js';
import { capital, make, number, spoken } from './make.js';
import { say, trying } from './say.js';
import { lineOf, onLine, ringOf, tenths } from './shapes.js';
import { newGesture } from './turn.js';

const FIELDS = ['colour', 'current_ma', 'size_mm', 'channels', 'leds_in_series', 'resistor_ohm', 'shared_resistor', 'switch'];
const PLACED = { ring: 'on a ring', line: 'on a line', list: 'one by one', none: 'in a row, not placed yet' };
const TABLES = { ring: 'Ring', line: 'Line' };

export class Groups {
  /** build: makes and changes things of the file. lamps: those of the chosen group on the picture. order(order): about lamps. */
  constructor(build, lamps, order) {
    this.build = build;
    this.lamps = lamps;
    this.order = order;
    this.form = this.parts = undefined;
    this.wired = make('dl', { class: 'wired', 'aria-live': 'polite' });
  }

  /** All of it: the groups, and the form of the chosen one. */
  drawn(form, parts) {
    this.form = form;
    this.parts = parts;
    const about = form.kind('groups'), names = Object.keys(parts.values.groups || {}), name = this.build.chosen.name;
    const list = make('div', { class: 'things groups' }, ...names.map((each) => this.entry(each)),
      act('New group of lamps', () => trying(() => this.fresh(about)), 'new-lamps'));
    const group = parts.values.groups?.[name];
    return [make('h2', {}, 'Groups of lamps'), list, ...(group ? this.one(about, name, group) : [])];
  }

  entry(name) {
    const { leds, colour, current_ma } = this.parts.assumed.groups[name], isChosen = name === this.build.chosen.name;
    const button = act('', () => this.build.look('groups', name), `group-${name}`);
    const dot = make('span', { class: 'dot', 'aria-hidden': 'true' });
    const lamp = this.lamps.of(name)[0];
    if (lamp) dot.style.background = `rgb(${codes(lamp.rgb)})`;
    button.append(dot, make('span', {}, spoken(name)), make('span', { class: 'small' }, `${leds} ${colour.replace('_', ' ')}, ${number(current_ma)} mA`));
    button.className = 'thing';
    if (isChosen) button.setAttribute('aria-current', 'true');
    return button;
  }

  one(about, name, group) {
    const path = ['groups', name], fields = this.form.forms.tables.Group.fields;
    const wanted = FIELDS.map((key) => fields.find((field) => field.key === key));
    const title = make('h2', { tabIndex: -1 }, spoken(name));
    trying(() => this.tell(name));
    return [title, make('div', { class: 'short' }, this.count(name, group), this.placed(name, group), ...this.shape(name, group)),
      make('h3', {}, 'How they are wired'),
      make('div', { class: 'short' }, ...wanted.map((field) => this.form.field(field, [...path, field.key]))), this.wired, this.build.head(about, name)];
  }

  /** How many lamps, one more, one fewer; several clicks before an answer count, too. */
  count(name, { leds }) {
    const id = 'lamp-count', each = this.step(name);
    let wanted = leds;
    const turn = (by) => () => { wanted += by; return this.counted(name, wanted); };
    const box = make('input', { type: 'number', id, min: 1, max: 2000, step: 1, value: leds, 'aria-describedby': `${id}-fault` });
    this.form.onEntry(box, () => this.counted(name, Number(box.value)));
    const fewer = act('One lamp fewer', turn(-each), 'fewer-lamps', '−');
    fewer.disabled = leds <= each;
    return make('div', { class: 'part-field' }, make('label', { htmlFor: id }, 'Lamps'),
      make('div', { class: 'said' }, fewer, box, act('One lamp more', turn(each), 'more-lamps', '+')), make('p', { class: 'fault', id: `${id}-fault`, role: 'alert' }));
  }

  /** Lamps that hang on one output come and go together. */
  step(name) {
    const { leds, channels } = this.parts.assumed.groups[name];
    return channels === 1 ? 1 : leds / channels;
  }

  async counted(name, leds) {
    try {
      await this.order({ group: name, leds, gesture: newGesture() });
    } catch (error) {
      this.build.draw();
      this.build.refuseAt(['lamp-count-fault'], error.message);
    }
  }

  placed(name, group) {
    const kind = group.ring_mm ? 'ring' : group.line_mm ? 'line' : group.places_mm ? 'list' : 'none';
    const kinds = Object.keys(PLACED).filter((each) => each !== 'none' || kind === 'none');
    const menu = make('select', { id: 'lamps-placed' }, ...kinds.map((each) => make('option', { value: each, selected: each === kind }, PLACED[each])));
    menu.addEventListener('change', () => this.lay(name, menu.value));
    return make('div', { class: 'part-field' }, make('label', { htmlFor: menu.id }, 'They lie'), make('div', { class: 'said' }, menu));
  }

  /** The group's lamps on a ring, on a line, or where they are, one by one. */
  lay(name, kind) {
    const path = ['groups', name], { lamps, view } = this.lamps, places = this.lamps.places(lamps.map((_, at) => at + 1));
    const [key, value] = {
      ring: () => ['ring_mm', ringOf(places, view.size_mm)], line: () => ['line_mm', lineOf(places, view.size_mm)],
      list: () => ['places_mm', places.map((place) => place.map(tenths))],
    }[kind]();
    return this.build.change([...path, key], [{ path: [...path, key], value }]);
  }

  shape(name, group) {
    const kind = group.ring_mm ? 'ring' : group.line_mm ? 'line' : undefined;
    return kind ? this.form.fieldsOf(TABLES[kind], ['groups', name, `${kind}_mm`]) : [];
  }

  /** Currents and resistors, as the wiring list has them. */
  async tell(name) {
    const asked = this.asked = get('/api/wiring'), { groups, remark } = await asked;
    if (asked !== this.asked || name !== this.build.chosen.name) return;
    const rows = groups[name] || [];
    this.wired.replaceChildren(...rows.map(([term, value]) => make('div', {}, make('dt', {}, capital(term)), make('dd', {}, value))),
      ...(rows.length ? [] : [make('div', {}, make('dt', {}, remark), make('dd', {}))]));
  }

  async fresh(about) {
    const { name } = this.form.fresh('groups'), [{ choices }] = this.form.forms.tables.Group.fields.find(({ key }) => key === 'colour').takes;
    const answer = await ask('A new group of lamps', ['Each lamp gets an output of its own. How they are wired can be said afterwards.'], [
      { name: 'name', label: 'Name', value: name.replaceAll('_', ' ') }, { name: 'leds', label: 'How many', value: '1' },
      { name: 'colour', label: 'Colour', choices, value: 'white' }, { name: 'current_ma', label: 'Current of one, in mA', value: '10' },
    ], [{ act: 'add', label: 'Make it' }]);
    if (!answer) return undefined;
    const leds = Number(answer.leds), current_ma = Number(answer.current_ma);
    if (!Number.isInteger(leds) || leds < 1 || !(current_ma > 0)) return say('A group needs one lamp or more, and a current above 0 mA.', true);
    return this.build.add(about, nameOf(answer.name), { ...(leds > 1 && { channels: leds }), leds, colour: answer.colour, current_ma, ...this.middle(leds) });
  }

  /** New lamps lie in the middle of what is seen. */
  middle(leds) {
    const [from, to] = this.lamps.view.seen(), y = tenths((from[1] + to[1]) / 2), along = (part) => tenths(from[0] + (to[0] - from[0]) * part);
    const line_mm = { from_mm: [along(0.25), y], to_mm: [along(0.75), y] };
    return leds > 1 ? { line_mm } : { places_mm: onLine(line_mm, 1).map((place) => place.map(tenths)) };
  }
}
