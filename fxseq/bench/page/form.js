/** A form for anything that a prop file holds, made from what the server says of its keys. */

import { byId, make, number, spoken } from './make.js';

/** What a menu says where nothing is chosen. */
const NOT_SAID = 'not said';
const NEW = '\u0000new', OWN = '\u0000own', LEVEL = '\u0000level';

/** Id of the control of a place in the file. */
export const idOf = (path) => `part-${path.join('-')}`;

/** What is at a path; undefined where nothing is. */
export function at(values, path) {
  return path.reduce((value, step) => value?.[step], values);
}

/** A name as the file has it, of what somebody types. */
export function nameOf(text) {
  return text.trim().toLowerCase().replace(/[^a-z0-9]+/g, '_').replace(/^_+|_+$/g, '');
}

/**
 * Makes controls for tables of the file.
 * forms: what /api/forms says. change(path, changes, order): has changes made, [{path, value}], or an order of another kind; what is refused
 * is shown at the path.
 */
export class Form {
  constructor(forms, change) {
    this.forms = forms;
    this.change = change;
    this.isDrawing = false;
    this.pathOf = new Map(); // by id of a control
    this.open = new Set();   // places whose fold is open
    this.top = new Map();    // by place: keys that stand above the fold for as long as the thing is looked at
  }

  /** parts: what /api/parts says. */
  take({ values, assumed }) {
    this.values = values;
    this.assumed = assumed;
  }

  /** Looks at another thing: what is said in it comes first. */
  reset() {
    this.open.clear();
    this.top.clear();
  }

  set(path, value) {
    return this.change(path, [{ path, value }]);
  }

  /** All fields of a table of the file: what is said or usual, and the rest in a fold. */
  fieldsOf(table, path) {
    const said = at(this.values, path) || {}, place = idOf(path);
    const unused = this.unusedIn(table, said);
    const fields = this.forms.tables[table].fields.filter(({ key }) => !unused.includes(key) || key in said);
    const top = this.top.get(place) || new Set();
    fields.filter(({ key, is_main }) => is_main || key in said).forEach(({ key }) => top.add(key));
    this.top.set(place, top);
    const rest = fields.filter(({ key }) => !top.has(key));
    const shown = fields.filter(({ key }) => top.has(key)).map((field) => this.field(field, [...path, field.key]));
    return rest.length ? [...shown, this.fold(place, rest, path)] : shown;
  }

  /** Keys that mean nothing under what is chosen. */
  unusedIn(table, said) {
    const [by, keys] = this.forms.unused[table] || [];
    if (!by) return [];
    return keys[said[by] ?? this.forms.tables[table].fields.find(({ key }) => key === by).default] || [];
  }

  fold(place, fields, path) {
    const fold = make('details', { class: 'rest', open: this.open.has(place) }, make('summary', {}, `More that can be said (${fields.length})`));
    const fill = () => fold.append(...fields.map((field) => this.field(field, [...path, field.key])));
    if (fold.open) fill();
    fold.addEventListener('toggle', () => {
      if (fold.open && !this.open.has(place)) fill();
      if (fold.open) this.open.add(place);
    });
    return fold;
  }

  /** One key with its label, unit, meaning, and what holds where it is left out. */
  field(field, path) {
    const id = idOf(path), value = at(this.values, path);
    const [take, other] = field.takes;
    if (other) return this.either(field, path, value);
    const makers = { table: () => this.inner(field, path, take), rows: () => this.rows(field, path, take.of), conditions: () => this.conditions(field, path) };
    if (makers[take.as]) return makers[take.as]();
    const control = this.control(take, field, path, value);
    return this.framed(field, id, make('div', { class: 'said' }, control, unit(field)));
  }

  framed(field, id, ...controls) {
    return make('div', { class: 'part-field' }, make('label', { htmlFor: id }, field.label), ...controls, this.means(field, id), fault(id));
  }

  means(field, id) {
    return make('p', { class: 'small', id: `${id}-means` }, [field.means, allowed(field), this.leftOut(field, id)].filter(Boolean).join(' '));
  }

  leftOut(field, id) {
    const path = this.pathOf.get(id);
    if (field.is_required || !path || at(this.values, path) !== undefined) return '';
    const assumed = at(this.assumed, path) ?? field.default;
    const isPlain = ['number', 'string', 'boolean'].includes(typeof assumed);
    if (isPlain) return `Not said: ${this.inWords(assumed, field)} is assumed.`;
    return field.left_out ? `Not said: ${field.left_out}.` : '';
  }

  inWords(value, field) {
    if (typeof value === 'boolean') return value ? 'yes' : 'no';
    if (typeof value === 'number') return `${number(value, 6)}${field.unit ? ` ${field.unit}` : ''}`;
    const choice = field.takes.flatMap(({ choices }) => choices || []).find((one) => one.value === value);
    return choice ? choice.label : spoken(value).toLowerCase();
  }

  control(take, field, path, value) {
    const id = idOf(path);
    this.pathOf.set(id, path);
    const more = { id, 'aria-describedby': `${id}-means ${id}-fault` };
    const makers = {
      number: () => this.numberBox(take, field, path, value, more), tick: () => this.tick(field, path, value, more),
      choice: () => this.menu(take.choices, field, path, value, more), text: () => this.textBox(path, value, more),
      thing: () => this.things(take.of, field, path, value, more), point: () => this.point(path, value, more),
      position: () => this.positionMenu(field, path, value, more),
    };
    return makers[take.as]();
  }

  /** Sends what is in a box once it is left or Enter is pressed. A box that is drawn anew under the hand has what was typed, and no event for it. */
  onEntry(box, read) {
    box.dataset.shown = box.value;
    const commit = () => {
      if (box.value === box.dataset.shown || this.isDrawing) return;
      box.dataset.shown = box.value;
      read();
    };
    box.addEventListener('change', commit);
    box.addEventListener('blur', commit);
    box.addEventListener('keydown', ({ key }) => key === 'Enter' && box.tagName === 'INPUT' && commit());
    return box;
  }

  numberBox({ whole }, field, path, value, more) {
    const box = make('input', { type: 'number', step: 'any', value: value ?? '', placeholder: NOT_SAID, ...more });
    return this.onEntry(box, () => {
      if (box.validity.badInput) return this.change(path, [], null, 'This is no number.');
      const typed = box.value === '' ? null : Number(box.value);
      return this.set(path, whole && typed !== null ? Math.round(typed) : typed);
    });
  }

  textBox(path, value, more) {
    const isLong = path.at(-1) === 'presses';
    const box = make(isLong ? 'textarea' : 'input', { ...(isLong ? { rows: 4 } : { type: 'text' }), ...more });
    box.value = value ?? '';
    return this.onEntry(box, () => this.set(path, box.value.trimEnd() || null));
  }

  tick(field, path, value, more) {
    const box = make('input', { type: 'checkbox', checked: value ?? at(this.assumed, path) ?? field.default ?? false, ...more });
    box.addEventListener('change', () => this.set(path, box.checked === field.default ? null : box.checked));
    return box;
  }

  /** A menu of values; what is chosen goes to the file, or to `chosen`. */
  menu(choices, field, path, value, more, chosen = (picked) => this.set(path, picked)) {
    const options = field.is_required && value !== undefined ? choices : [{ value: null, label: NOT_SAID }, ...choices];
    const menu = make('select', more, ...options.map((choice, place) => make('option', { value: place, selected: choice.value === (value ?? null) }, choice.label)));
    menu.addEventListener('change', () => chosen(options[menu.value].value));
    return menu;
  }

  /** A menu of the things of a kind, and of a new one. */
  things(kind, field, path, value, more, chosen) {
    const names = Object.keys(this.values[kind] || {});
    const choices = names.map((name) => ({ value: name, label: spoken(name) }));
    const fresh = this.fresh(kind);
    if (fresh) choices.push({ value: NEW, label: `a new ${fresh.one} …` });
    return this.menu(choices, field, path, value, more, (picked) => (picked === NEW ? this.withNew(fresh, path)
      : (chosen || ((name) => this.set(path, name)))(picked)));
  }

  /** A thing of the kind that there is not yet; undefined where a file has to be given first. @returns {any} */
  fresh(kind) {
    const { one, table } = this.kind(kind);
    const { least, fields } = this.forms.tables[table];
    if (kind === 'clips') return undefined;
    const [stem] = one.split(' ');
    let name = stem;
    for (let count = 2; name in (this.values[kind] || {}); count++) name = `${stem}_${count}`;
    return { kind, name, one, least, fields };
  }

  kind(kind) {
    return this.forms.themes.flatMap(({ kinds }) => kinds).find((one) => one.kind === kind);
  }

  withNew({ kind, name, least }, path) {
    return this.change(path, [{ path: [kind, name], value: least }, { path, value: name }]);
  }

  positionMenu(field, path, value, more) {
    const positions = at(this.values, [...path.slice(0, -1), 'positions']) || [];
    return this.menu(positions.map((name) => ({ value: name, label: spoken(name) })), field, path, value, more);
  }

  point(path, value, more) {
    const boxes = ['across', 'down'].map((way, axis) => {
      const box = make('input', { type: 'number', step: 'any', value: value?.[axis] ?? '', ...more, id: `${more.id}${axis ? '-down' : ''}`,
        'aria-label': `${way}, in mm` });
      return this.onEntry(box, () => {
        const now = boxes.map(({ id }) => byId(id).value);
        if (now.every((way) => way !== '')) this.set(path, now.map(Number));
      });
    });
    return make('span', { class: 'row' }, ...boxes);
  }

  /** A table within a table: added, filled in, taken out. */
  inner(field, path, { table }) {
    const id = idOf(path), value = at(this.values, path);
    this.pathOf.set(id, path);
    const frame = make('fieldset', { class: 'part-field' }, make('legend', {}, field.label), this.means(field, id));
    if (value === undefined) {
      frame.append(act(`Say more: ${small(field.label)}`, () => this.set(path, this.least(table)), id), fault(id));
      return frame;
    }
    frame.append(...this.fieldsOf(table, path));
    if (!field.is_required) frame.append(act(`Take out: ${small(field.label)}`, () => this.set(path, null), id));
    frame.append(fault(id));
    return frame;
  }

  /** What a new row or table begins with: names of the first things that there are. */
  least(table) {
    const { least, fields } = this.forms.tables[table];
    const named = fields.filter(({ is_required, takes, key }) => is_required && takes[0].as === 'thing' && !(key in least))
      .map(({ key, takes }) => [key, Object.keys(this.values[takes[0].of] || {})[0]]);
    return { ...Object.fromEntries(named.filter(([, name]) => name)), ...least };
  }

  /** Steps that a row needs things for which there are none yet: they are made along with it. */
  needed(table) {
    return this.forms.tables[table].fields.filter(({ is_required, takes }) => is_required && takes[0].as === 'thing'
      && !Object.keys(this.values[takes[0].of] || {}).length).map(({ key, takes }) => ({ key, kind: takes[0].of }));
  }

  rows(field, path, of) {
    const id = idOf(path), value = at(this.values, path) || [];
    this.pathOf.set(id, path);
    if (of.as === 'choice') return this.ticks(field, path, of, at(this.values, path));
    if (of.as === 'number' || of.as === 'point') return this.list(field, path, of, at(this.values, path));
    const one = singular(field.label);
    const rows = value.map((item, row) => this.row(field, [...path, row], of, value, `${one} ${row + 1}`));
    return make('fieldset', { class: 'part-field rows' }, make('legend', {}, field.label), this.means(field, id), ...rows,
      act(`Add ${small(one)}`, () => this.addRow(path, of, value), id), fault(id));
  }

  row(field, path, of, value, label) {
    const [row] = path.slice(-1), list = path.slice(0, -1), id = idOf(path), take = this.takeOut(path, list, value);
    const tools = make('div', { class: 'row tools' },
      ...(row > 0 ? [act(`Earlier: ${label}`, () => this.move(path, -1), `${id}-up`, '↑')] : []),
      ...(row < value.length - 1 ? [act(`Later: ${label}`, () => this.move(path, 1), `${id}-down`, '↓')] : []),
      act(`Take out: ${label}`, take, `${id}-out`, '×'));
    if (of.as === 'table') return make('fieldset', { class: 'one-row' }, make('legend', {}, label), ...this.fieldsOf(of.table, path), tools, fault(id));
    const required = { ...field, is_required: true };
    const control = of.as === 'position' ? this.positionBox(path, value[row]) : this.control(of, required, path, value[row]);
    control.setAttribute('aria-label', label);
    return make('div', { class: 'one-row' }, make('div', { class: 'row' }, control, tools), fault(id));
  }

  /** The last row of what need not be said takes the key with it. */
  takeOut(path, list, value) {
    return () => this.set(value.length === 1 ? list : path, null);
  }

  move(path, by) {
    return this.change(path, [], { do: 'move', path, by });
  }

  positionBox(path, value) {
    const box = make('input', { type: 'text', id: idOf(path), value: value.replaceAll('_', ' ') });
    return this.onEntry(box, () => this.change(path, [], { do: 'rename_position', name: path[1], position: value, new: nameOf(box.value) }));
  }

  addRow(path, of, value) {
    const set = (item, ...made) => this.change(path, [], { do: 'append', path, value: item, changes: made });
    if (of.as === 'table') return this.addTable(path, of.table, set);
    if (of.as === 'position') return set(freeAmong(value, `position_${value.length + 1}`));
    const [name] = Object.keys(this.values[of.of] || {});
    const fresh = name ? null : this.fresh(of.of);
    return name ? set(name) : set(fresh.name, { path: [fresh.kind, fresh.name], value: fresh.least });
  }

  addTable(path, table, set) {
    const row = this.least(table), made = [];
    for (const { key, kind } of this.needed(table)) {
      const fresh = this.fresh(kind);
      if (!fresh) return this.change(path, [], null, 'There is no sound yet. Drop a recording on the page first.');
      made.push({ path: [kind, fresh.name], value: fresh.least });
      row[key] = fresh.name;
    }
    return set(row, ...made);
  }

  ticks(field, path, { choices }, value) {
    const id = idOf(path), said = value ?? at(this.assumed, path) ?? field.default ?? [];
    const boxes = choices.map((choice) => [choice.value, make('input', { type: 'checkbox', checked: said.includes(choice.value), id: `${id}-${choice.value}` })]);
    boxes.forEach(([, box]) => box.addEventListener('change', () => {
      const ticked = boxes.filter(([, one]) => one.checked).map(([name]) => name);
      this.set(path, ticked.length ? ticked : null);
    }));
    return make('fieldset', { class: 'part-field' }, make('legend', {}, field.label), this.means(field, id),
      make('div', { class: 'row' }, ...boxes.map(([, box], place) => make('label', { class: 'tick' }, box, make('span', {}, choices[place].label)))), fault(id));
  }

  /** Numbers with commas between them, or points one to a line. */
  list(field, path, of, value) {
    const id = idOf(path), isPoints = of.as === 'point';
    this.pathOf.set(id, path);
    const box = make('textarea', { id, rows: isPoints ? 4 : 1, placeholder: NOT_SAID, 'aria-describedby': `${id}-means ${id}-fault` });
    box.value = (value || []).map((item) => (isPoints ? item.join(', ') : item)).join(isPoints ? '\n' : ', ');
    this.onEntry(box, () => {
      const words = box.value.split(isPoints ? /\n+/ : /[\s,;]+/).filter((word) => word.trim());
      const items = words.map((word) => (isPoints ? word.split(/[\s,;]+/).filter(Boolean).map(Number) : Number(word)));
      if (items.flat().some(Number.isNaN)) return this.change(path, [], null, 'This is no list of numbers.');
      return this.set(path, items.length ? items : null);
    });
    const hint = isPoints ? 'One place to a line: across, down.' : 'With commas between them.';
    return this.framed({ ...field, means: `${field.means} ${hint}` }, id, box);
  }

  /** A number or one word, or a table or one of some words. */
  either(field, path, value) {
    const [first, second] = field.takes, id = idOf(path);
    this.pathOf.set(id, path);
    const own = first.as === 'table' ? { value: OWN, label: 'its own times' } : { value: LEVEL, label: 'a level' };
    const picked = typeof value === 'string' || value === undefined ? value : own.value;
    const chosen = (word) => this.set(path, word === OWN ? this.least(first.table) : word === LEVEL ? 0 : word);
    const menu = this.menu([own, ...second.choices], field, path, picked, { id: `${id}-way`, 'aria-label': `${field.label}: what kind` }, chosen);
    if (first.as === 'table') {
      const inner = picked === OWN ? this.fieldsOf(first.table, path) : [];
      menu.id = id;
      return make('fieldset', { class: 'part-field' }, make('legend', {}, field.label), menu, this.means(field, id), ...inner, fault(id));
    }
    const box = picked === LEVEL ? [this.control(first, field, path, value), unit(field)] : [];
    return this.framed(field, picked === LEVEL ? id : `${id}-way`, make('div', { class: 'said' }, ...box, menu));
  }

  /** Positions of selectors in which a trigger works: a tick for each. */
  conditions(field, path) {
    const id = idOf(path), selectors = Object.entries(this.values.selectors || {});
    this.pathOf.set(id, path);
    const none = selectors.length ? [] : [make('p', { class: 'small' }, 'There is no selector yet.')];
    return make('fieldset', { class: 'part-field' }, make('legend', {}, field.label), this.means(field, id), ...none,
      ...selectors.map(([name, { positions }]) => this.condition(path, name, positions)), fault(id));
  }

  condition(path, name, positions) {
    const wanted = [at(this.values, [...path, name]) ?? []].flat(), id = idOf([...path, name]);
    const boxes = positions.map((position) => make('input', { type: 'checkbox', checked: wanted.includes(position), id: `${id}-${position}` }));
    boxes.forEach((box) => box.addEventListener('change', () => this.setCondition(path, name, positions.filter((_, place) => boxes[place].checked))));
    return make('div', { class: 'row', role: 'group', 'aria-label': spoken(name) }, make('span', {}, `${spoken(name)} is on`),
      ...boxes.map((box, place) => make('label', { class: 'tick' }, box, make('span', {}, spoken(positions[place])))));
  }

  setCondition(path, name, positions) {
    const others = Object.keys(at(this.values, path) || {}).filter((other) => other !== name);
    if (!positions.length && !others.length) return this.set(path, null);
    return this.change(path, [{ path: [...path, name], value: positions.length > 1 ? positions : positions[0] ?? null }]);
  }
}

/** A button. label: what it does, in full; sign: what it shows where the place is small. */
export function act(label, done, id = '', sign = '') {
  const button = make('button', { type: 'button', id: id && `${id}-act` }, sign || label);
  if (sign) button.setAttribute('aria-label', label);
  button.addEventListener('click', done);
  return button;
}

/** A label within a sentence: LEDs stay LEDs. */
export function small(label) {
  return /^[A-Z][a-z]/.test(label) ? label.charAt(0).toLowerCase() + label.slice(1) : label;
}

/** The range of a number. */
function allowed({ takes, unit: of }) {
  const { as, least, most } = takes[0].of || takes[0];
  if (as !== 'number' || least === null || most === null) return '';
  return `Allowed: ${number(least, 7)} to ${number(most, 7)}${of ? ` ${of}` : ''}.`;
}

function fault(id) {
  return make('p', { class: 'fault', id: `${id}-fault`, role: 'alert' });
}

function unit({ unit: text }) {
  return make('span', { class: 'unit' }, text);
}

function singular(label) {
  return label.replace(/s of counters$/, ' of a counter').replace(/s$/, '');
}

function freeAmong(names, wanted) {
  let name = wanted;
  for (let count = names.length + 1; names.includes(name); count++) name = `position_${count}`;
  return name;
}
