/** What a form makes of what people write: the record's data, or a sentence at the field. */
import { afterEach, describe, expect, it } from 'vitest';
import { checkFields } from '../../../client/src/check';
import { kindOf } from '../../../client/src/catalogue';
import { units } from '../../../client/src/i18n/format';
import { readForm, textWrong, toTyped, type Values } from '../../../client/src/ui/validate';
import '../../../client/src/i18n/rest';

const read = (kind: string, values: Values) => readForm(kindOf(kind), values, (f) => f.name);

afterEach(() => { units.value = 'metric'; });

describe('readForm', () => {
  it('turns figures of scale and gauge into stored whole numbers', () => {
    expect(read('load.ran', { result: 'passed', hold_min: '150', temp: '121,1', gauge_pa: '105.5' })).toEqual({ d: { result: 'passed', hold_min: 150, temp: 12_110, gauge_pa: 105_500 }, wrong: {} });
    units.value = 'us';
    expect(read('load.ran', { result: 'passed', temp: '250', gauge_pa: '15' }).d).toMatchObject({ temp: 12_111, gauge_pa: 103_421 });
  });
  it('leaves out what was left empty', () => expect(read('bag.soaked', { minutes: ' ', water_temp: '' })).toEqual({ d: {}, wrong: {} }));
  it('names each required field that is missing', () => expect(Object.keys(read('place.named', { name: '  ' }).wrong)).toEqual(['name', 'type']));

  it.each([
    ['bag.filled', { n: '0' }, 'n'], ['bag.filled', { n: '2.5' }, 'n'], ['bag.filled', { n: '-3' }, 'n'], ['bag.filled', { n: 'forty' }, 'n'], ['bag.filled', { n: '100001' }, 'n'],
    ['bag.filled', { n: '20', fill_g: '1,5' }, 'fill_g'], ['bag.filled', { n: '20', fill_g: '0' }, 'fill_g'], ['bag.filled', { n: '20', fill_g: '101 kg' }, 'fill_g'],
    ['batch.mixed', { name: 'x', moisture: '101' }, 'moisture'], ['bag.shocked', { temp: '-21' }, 'temp'], ['strain.named', { name: 'x'.repeat(61) }, 'name'], ['strain.named', { name: 'a\u0000b' }, 'name'],
  ] as [string, Values, string][])('%s %j is told at %s', (kind, values, field) => {
    const got = read(kind, values);
    expect(Object.keys(got.wrong)).toEqual([field]);
    expect(got.wrong[field]).toContain(field);
  });

  it('takes emoji, right-to-left names and corrections below zero', () => {
    expect(read('strain.named', { name: 'Fen 🍄 شيتاكي' })).toEqual({ d: { name: 'Fen 🍄 شيتاكي' }, wrong: {} });
    expect(read('group.corrected', { by: '−2' })).toEqual({ d: { by: -2 }, wrong: {} });
  });

  it('saves nothing that the catalogue would hold', () => {
    for (const [kind, values] of [['batch.mixed', { name: '25 Nov A1', moisture: '60', wet_g: '48 kg' }], ['stock.opened', { name: 'Before', n: '800', stage: 'spawn_run' }], ['bag.weighed', { g: '2380', when: 'cooled' }]] as [string, Values][]) {
      const got = read(kind, values);
      expect(got.wrong).toEqual({});
      expect(checkFields(kind, got.d)).toBeNull();
    }
  });

  it('shows a stored figure as it is typed', () => {
    for (const [kind, name, stored] of [['load.ran', 'temp', 12_110], ['batch.mixed', 'moisture', 6_050], ['bag.filled', 'fill_g', 2_400]] as [string, string, number][]) {
      const f = kindOf(kind).fields.find((x) => x.name === name);
      if (!f) throw new Error(name);
      expect(readForm({ fields: [f] }, { [name]: toTyped(f, stored) }, () => name).d).toEqual({ [name]: stored });
    }
  });
});

describe('textWrong', () => {
  it('counts characters as people do', () => {
    expect(textWrong('🍄'.repeat(60), 60, 'Name')).toBeNull();
    expect(textWrong('🍄'.repeat(61), 60, 'Name')).toContain('1 character too long');
    expect(textWrong('\ud83c', 60, 'Name')).toContain('invisible');
  });
});
