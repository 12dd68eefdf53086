/**
 * A picture of the rooms, drawn from the places as they were named: racks with their shelves, trolleys, the floor.
 * Each shelf says its stages and counts in words, too; the wanted batch stands out by frame, arrow and word.
 */
import { useState } from 'preact/hooks';
import { t } from '../i18n';
import { app } from '../ui/app';
import { ENDS, STAGES } from '../ui/catalogue';
import { ChoiceGrid } from '../ui/Choice';
import { Care } from '../ui/Care';
import { placeName } from '../ui/names';
import { ScanPane } from '../ui/ScanPane';
import { useScan } from '../ui/scanning';
import { say } from '../ui/toast';
import { to } from '../ui/route';
import { Head } from './parts';
import { allWanted, BAD, each, rooms, type Spot } from './rooms';
import { findTarget } from './target';
import '../style/floor.css';

const MOST_DRAWN = 20;
const WIDE = 12;

export function Rooms({ batch: asked }: { batch?: string | undefined }) {
  const a = app();
  const [batch, setBatch] = useState<string | null>(asked ?? null);
  void a.changed.value;
  const found = a.indexReady.value ? a.find({}).filter((f) => !ENDS.includes(f.stage)) : [];
  const all = rooms(a.ref.value.places, found, STAGES, batch);
  const names = [...new Map(found.filter((f) => f.place).map((f) => [f.batch, f.name]))].slice(0, 60);
  const shown = [...new Set(all.flatMap(stagesIn))];
  useScan(async (code) => {
    const target = await findTarget(code);
    if (target?.batch) setBatch(target.batch);
    else say('bad', `${t('bag.unknown')} ${t('unknown.todo')}`);
  });
  const wanted = all.reduce((sum, room) => sum + allWanted(room), 0);
  return (
    <main class="screen" id="main">
      <Head title={t('screen.rooms')} sub={batch ? t('rooms.wanted', { n: wanted, batch: a.batchName(batch) ?? batch }) : undefined} />
      {!all.length && <><p class="quiet">{t('rooms.none')}</p><a class="btn" href={to('setup', 'places')}>{t('home.first.places')}</a></>}
      {all.length > 0 && (
        <details class="card">
          <summary>{t('rooms.light')}</summary>
          <ScanPane />
          <ChoiceGrid label={t('rooms.light')} quiet value={batch} onPick={(v) => setBatch(v === batch ? null : v)} options={names.map(([value, name]) => ({ value, name }))} />
        </details>
      )}
      {shown.length > 0 && <ul class="room-key" aria-label={t('rooms.key')}>{shown.map((s) => <li key={s}><svg width="18" height="30" viewBox="0 0 12 20" aria-hidden="true"><Mini stage={s} x={0} lit={false} /></svg>{stageName(s)}</li>)}</ul>}
      {all.map((room) => (
        <section class="room" key={room.code || '-'} aria-label={room.code ? placeName(room.code) : t('rooms.elsewhere')}>
          <h2 dir="auto">{room.code ? <a href={to('place', room.code)}>{placeName(room.code)}</a> : t('rooms.elsewhere')}</h2>
          <div class="room-racks">{room.inside.map((s) => <Standing key={s.code} spot={s} />)}</div>
          {room.n > 0 && <Board spot={room} name={t('rooms.floor')} />}
          {!room.n && !room.inside.length && <p class="quiet small">{t('place.empty')}</p>}
        </section>
      ))}
      {all.length > 0 && <Care of={shown.includes('fruiting') ? 'room_fruiting' : 'room'} />}
    </main>
  );
}

const stagesIn = (spot: Spot): string[] => [...spot.stages.map(([s]) => s), ...spot.inside.flatMap(stagesIn)];
const stageName = (stage: string): string => t(stage === BAD ? 'rooms.bad' : `stage.${stage}`);

/** A rack, a trolley, or a shelf that stands by itself. */
function Standing({ spot }: { spot: Spot }) {
  const wheels = spot.type === 'trolley';
  if (!spot.inside.length) return <div class={`rack${wheels ? ' on-wheels' : ''}`}><Board spot={spot} name={placeName(spot.code)} /></div>;
  return (
    <div class={`rack${wheels ? ' on-wheels' : ''}`}>
      <h3 dir="auto">{placeName(spot.code)}</h3>
      {spot.inside.map((s) => (s.inside.length ? <Standing key={s.code} spot={s} /> : <Board key={s.code} spot={s} name={placeName(s.code)} />))}
      {spot.n > 0 && <Board spot={spot} name={t('rooms.on_it')} />}
    </div>
  );
}

/** One board with what stands on it; the words are its text alternative, the drawing is hidden from readers. */
function Board({ spot, name }: { spot: Spot; name: string }) {
  const one = each(spot.n, MOST_DRAWN);
  const drawn = spot.stages.flatMap(([stage, n]) => Array.from({ length: Math.max(1, Math.round(n / one)) }, () => stage)).slice(0, MOST_DRAWN + 4);
  const count = spot.holds ? t('rooms.of', { n: spot.n, holds: spot.holds }) : String(spot.n);
  return (
    <a class={`shelf${spot.wanted ? ' shelf-wanted' : ''}`} href={to('place', spot.code)}>
      <b dir="auto">{name}</b><span class="num">{count}</span>
      {drawn.length > 0 && <svg viewBox={`0 0 ${(MOST_DRAWN + 4) * WIDE} 20`} preserveAspectRatio="xMinYMax meet" aria-hidden="true">{drawn.map((stage, i) => <Mini key={i} stage={stage} x={i * WIDE} lit={spot.wanted > 0} />)}</svg>}
      <small>{spot.stages.length ? spot.stages.map(([s, n]) => `${stageName(s)} ${n}`).join(' · ') : t('rooms.empty')}{spot.wanted ? ` · ${t('rooms.here', { n: spot.wanted })}` : ''}</small>
    </a>
  );
}

/** A small bag: how far the white has come, a cap when it fruits, a cross when something else grows in it. */
function Mini({ stage, x, lit }: { stage: string; x: number; lit: boolean }) {
  const line = { fill: 'none', stroke: 'var(--ink)', 'stroke-width': lit ? 1.8 : 1.1 };
  const run = stage === 'spawn_run' ? 0.5 : ['colonised', 'browning', 'fruiting', 'resting'].includes(stage) ? 1 : 0;
  return (
    <g transform={`translate(${x} 0)`}>
      <rect x="1.5" y="6" width="9" height="13" fill="var(--bag-mix)" />
      {run > 0 && <rect x="1.5" y="6" width="9" height={13 * run} fill={['browning', 'fruiting', 'resting'].includes(stage) ? 'var(--bag-brown)' : 'var(--bag-run)'} />}
      <rect x="1.5" y="6" width="9" height="13" {...line} stroke-dasharray={stage === 'resting' ? '2 1.500' : undefined} />
      {stage === 'sterilised' && <path d="M1.500 9h9" {...line} />}
      {/* The white of the run is light in both themes, so its tick is dark in both. */}
      {stage === 'colonised' && <path d="M4 12.500l1.500 1.500 3-3.500" {...line} style={{ stroke: 'var(--bag-tick, #13201a)' }} />}
      {stage === 'fruiting' && <path d="M2 6a4 4 0 0 1 8 0zM6 6" fill="var(--bag-cap)" stroke="var(--ink)" stroke-width="1" />}
      {stage === BAD && <path d="M2 6.500l8 12M10 6.500l-8 12" stroke="var(--bad)" stroke-width="1.800" />}
    </g>
  );
}
