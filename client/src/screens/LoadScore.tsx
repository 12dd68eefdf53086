/** What a load's readings were worth: F0 with its reference, each probe, the hold, the curve; and how it is reckoned. */
import { t } from '../i18n';
import { temperature } from '../i18n/format';
import { ATMOSPHERIC_C } from '../trade/lethality';
import type { Score } from '../trade/score';
import { ChoiceGrid } from '../ui/Choice';
import { LoadCurve } from './LoadCurve';
import { clockText, f0Text, spanText, type Clock } from './logwords';
import { Amount } from './mixwords';

/** How a load is scored, in 0.01 °C and 0.01 K. */
export interface Terms { ref: number; z: number; limit: number }

/** Where a load starts: 121 °C under pressure, 95 °C in steam without it. */
export const usualTerms = (way: unknown): Terms => ({ ref: 12_110, z: 1_000, limit: way === 'atmospheric' ? 9_500 : 12_100 });

export function TermsCard({ terms, onChange }: { terms: Terms; onChange: (terms: Terms) => void }) {
  return (
    <details class="card">
      <summary>{t('load_log.terms')} · {temperature(terms.limit)}</summary>
      <Amount label={t('field.load_logged.limit')} quantity="temperature" value={terms.limit} onChange={(x) => { if (x !== null) onChange({ ...terms, limit: x }); }} hint={t('load_log.limit.hint')} />
      <ChoiceGrid label={t('field.load_logged.ref')} value={String(terms.ref)} onPick={(v) => onChange({ ...terms, ref: Number(v) })}
        options={[12_110, 12_100].map((ref) => ({ value: String(ref), name: temperature(ref), about: t(`load_log.ref.${ref}`) }))} />
      <ChoiceGrid label={t('field.load_logged.z')} value={String(terms.z)} onPick={(v) => onChange({ ...terms, z: Number(v) })}
        options={[900, 1_000, 1_200].map((z) => ({ value: String(z), name: `${z / 100} K`, about: z === 1_000 ? t('load_log.z.usual') : undefined }))} />
      <p class="small quiet">{t('load_log.terms.why')}</p>
    </details>
  );
}

export function ScoreCard({ score, clock }: { score: Score; clock: Clock }) {
  const steamed = score.highest !== null && score.highest < ATMOSPHERIC_C * 100;
  const coldest = score.coldest === null ? null : score.probes[score.coldest];
  return (
    <section class="card" aria-label={t('load_log.worth')} data-score>
      <h2>{t('load_log.worth')}</h2>
      {score.f0 === null ? <p class="wrong" role="alert">{t('load_log.no_f0')}</p> : (
        <p aria-live="polite"><span style={{ fontSize: 'var(--t-figure)', fontWeight: 680, lineHeight: 1.1 }} data-f0>F₀ {f0Text(score.f0)} min</span><br />
          <span class="quiet">{t('load_log.f0.at', { ref: temperature(score.ref), z: String(score.z / 100), probe: coldest?.name ?? '' })}</span></p>
      )}
      {steamed && <p class="note note-care" style={{ gridTemplateColumns: '1fr' }} data-steamed><b style={{ gridColumn: 1 }}>{t('load_log.steamed')}</b><span style={{ gridColumn: 1 }}>{t('load_log.steamed.why')}</span></p>}
      <dl class="facts">
        <dt>{t('field.load_logged.limit')}</dt><dd>{temperature(score.limit)}</dd>
        <dt>{t('field.load_logged.arrived_min')}</dt><dd>{score.arrived_ms === null ? t('load_log.never') : `${spanText(score.arrived_ms - score.from_ms)} (${clockText(score.arrived_ms, clock)})`}</dd>
        <dt>{t('field.load_logged.held_min')}</dt><dd data-held-for>{spanText(score.held_ms)}</dd>
        {score.stretches > 1 && <><dt>{t('load_log.longest')}</dt><dd>{spanText(score.longest_ms)}</dd></>}
        <dt>{t('field.load_logged.highest')}</dt><dd>{score.highest === null ? '–' : temperature(score.highest)}</dd>
        <dt>{t('field.load_logged.uncounted_min')}</dt><dd>{spanText(coldest?.uncounted_ms ?? 0)}</dd>
        <dt>{t('field.load_logged.readings')}</dt><dd>{score.readings}</dd>
      </dl>
      <LoadCurve score={score} clock={clock} />
      {score.probes.length > 1 && (
        <div class="tablewrap"><table>
          <thead><tr><th scope="col">{t('load_log.probe')}</th><th scope="col" class="num">F₀ min</th><th scope="col" class="num">{t('load_log.arrived')}</th><th scope="col" class="num">{t('load_log.top')}</th></tr></thead>
          <tbody>{score.probes.map((p, i) => (
            <tr key={p.name + i}><td dir="auto">{p.name}{i === score.coldest && <> · <b>{t('load_curve.coldest')}</b></>}</td><td class="num">{p.f0 === null ? '–' : f0Text(p.f0)}</td>
              <td class="num">{p.arrived_ms === null ? t('load_log.never') : clockText(p.arrived_ms, clock)}</td><td class="num">{p.highest === null ? '–' : temperature(p.highest)}</td></tr>
          ))}</tbody>
        </table></div>
      )}
      <p class="small quiet">{t('load_log.basis')}</p>
    </section>
  );
}
