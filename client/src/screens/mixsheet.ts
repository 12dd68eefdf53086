/** A plan as a mix sheet to print: the words and figures of this phone; the farm's computer draws them. */
import { language, t } from '../i18n';
import { percent, spacedCode } from '../i18n/format';
import { ofAmounts, ofMixer } from '../trade/cautions';
import { app } from '../ui/app';
import { dealt, type PlanLine } from './charges';
import { declared } from './mixdata';
import { allergenWords } from './MaterialLot';
import { scale, sentence } from './mixwords';

/** More charges than these go on no paper: the first ones are printed, for they are alike to the gram. */
const MOST_CHARGES = 24;

/** The lot a line is taken from, as its tag or its day says. */
const lotWords = (lot: string): string => {
  const row = app().ref.value.materials[lot];
  const supplier = typeof row?.['supplier'] === 'string' ? row['supplier'] : '';
  return [t('sheet.lot', { lot: spacedCode(lot).slice(-8) }), supplier].filter(Boolean).join(' · ');
};

/** The body of /api/papers/mix-sheet. */
export function sheetOf(plan: Record<string, unknown>): object {
  const lines = (plan['lines'] ?? []) as PlanLine[];
  const water = Number(plan['water_g'] ?? 0);
  const charges = dealt(lines, water, Number(plan['charges'] ?? 1));
  const total = lines.reduce((sum, l) => sum + l.planned_g, 0) + water;
  const names = [...new Set(lines.map((l) => l.name))];
  const lots = lines.flatMap((l) => (l.lot ? [l.lot] : []));
  const allergens = [...new Set(names.flatMap((n) => declared(app().ref.value.materials, n, lots).allergens.split(/,\s*/)).filter(Boolean))].join(', ');
  const settings = app().ref.value.settings;
  const bags = Number(plan['n'] ?? 0);
  const fill = Number(plan['fill_g'] ?? 0);
  const basis = String(plan['basis'] ?? '');
  const amounts = (plan['amounts'] ?? []) as { name: string; amount: number }[];
  const facts = [
    [t('field.mix_planned.recipe'), String(plan['recipe_name'] ?? '')],
    [basis && plan['said'] !== 'grams' ? t(`choice.basis.${basis}`) : '', amounts.map((a) => `${a.name} ${a.amount / 10_000} %`).join(', ')],
    [t('mix.moisture'), t('mix.wb', { p: percent(Number(plan['target'] ?? 0)) })],
    [t('mix.total'), scale(total)],
    [t('mix.bags'), bags ? t('sheet.bags', { n: bags, g: scale(fill) }) : ''],
    [t('mix.charges'), charges.length > 1 ? String(charges.length) : ''],
    [t('field.material_received.allergens'), allergenWords(allergens)],
  ].filter(([name, value]) => name && value).map(([name, value]) => ({ name, value: String(value).slice(0, 300) }));
  const most = (i: number): number => Math.max(...charges.map((c) => c.g[i] ?? 0));
  const cautions = [
    ...ofAmounts(lines.map((l, i) => [l.name, most(i)] as const)).map(sentence),
    ...ofMixer(settings['rotating'] === true).map(sentence), t('mix.warm'), t('care.local'),
  ];
  return {
    language: language.value, paper: language.value === 'en-US' ? 'letter' : 'a4',
    title: String(plan['name'] ?? ''), code: String(plan['batch'] ?? ''), words: t('sheet.words'),
    heads: [t('sheet.what'), t('mix.weigh'), t('sheet.scale')], facts, cautions,
    blanks: [t('sheet.by'), t('sheet.water_at'), t('field.batch_tested.found'), t('field.batch_tested.felt')],
    charges: charges.slice(0, MOST_CHARGES).map((c, i) => ({
      title: charges.length > 1 ? t('sheet.charge', { n: i + 1, of: charges.length }) : t('sheet.one'),
      rows: [
        ...lines.map((l, at) => ({ name: l.name, about: [t('mix.at', { p: percent(l.moisture) }), l.lot ? lotWords(l.lot) : ''].filter(Boolean).join(' · ').slice(0, 120), amount: scale(c.g[at] ?? 0) })),
        { name: t('mix.water'), amount: scale(c.water_g) },
      ],
      total: t('mix.total'), total_amount: scale(c.g.reduce((a, b) => a + b, c.water_g)),
    })),
  };
}
