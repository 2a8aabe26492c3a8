/** Key numbers and findings of the file's own press script, as the server works them out. */

import { make, number, spoken } from './make.js';

/** Shows what /api/numbers tells. */
export function showFigures(place, figures) {
  place.replaceChildren(...rows(figures).map(([term, value]) => make('div', {}, make('dt', {}, term), make('dd', {}, value))));
}

function rows({ level_db, mean_ma, peak_ma, hours, table_bytes, flash_bytes, rates_known, rates }) {
  const spread = level_db.spread_db ? ` ± ${number(level_db.spread_db, 2)}` : '';
  const level = (value) => (value === null ? null : `${number(value)}${spread} dB(A)`);
  return [
    ['Loudest at the hand', level(level_db.hand)],
    ['Loudest in the audience', level(level_db.audience)],
    ['Current, mean and peak', `${number(mean_ma)} and ${number(peak_ma)} mA`],
    ['Runs for', hours === null ? null : `${number(hours)} h`],
    ['Table', `${number(table_bytes / 1024)} of ${number(flash_bytes / 1024)} KiB of flash (${number(100 * table_bytes / flash_bytes, 2)} %)`],
    ...(rates_known ? rates.map(rateRow) : [['Fastest repeat', 'being worked out']]),
  ].filter(([, value]) => value);
}

function rateRow({ trigger, present_per_s, fastest_per_s, binds }) {
  const fastest = fastest_per_s === null ? 'no rate keeps all limits' : `${number(fastest_per_s)} a second at most`;
  const by = binds.length ? `: ${fastest_per_s === null ? '' : 'above that, '}${binds.join(', ')}` : '';
  return [`${spoken(trigger)}, now ${number(present_per_s)} a second`, fastest + by];
}

/** Shows the findings, the weightiest first, as the server orders them. */
export function showFindings(place, findings) {
  const none = make('p', { class: 'small' }, 'Nothing found.');
  place.replaceChildren(...(findings.length ? findings.map(finding) : [none]));
}

function finding({ check, weight, subject, figure, limit, source, remedy }) {
  const word = String(weight).toLowerCase();
  return make('details', { class: `finding ${word}` },
    make('summary', {}, make('strong', {}, spoken(word)), ` ${subject}: ${figure}`),
    limit ? make('p', {}, `Limit: ${limit}`) : null,
    remedy ? make('p', {}, remedy) : null,
    make('p', { class: 'small' }, `${check}. Source: ${source}`));
}
