/** The command card and the day sheet, to print: words in the farm's language go along, codes and lines are drawn there. */
import { choiceName, language, num, t } from '../i18n';
import { codeOf, COMMANDS } from '../round/commands';
import { app } from '../ui/app';
import { Pdf } from '../ui/Pdf';
import { ROW_ACTS } from '../round/daysheet';
import { Head } from './parts';

/** What stands beside a command's code. */
export function commandName(word: string): string {
  const [kind = '', value = ''] = word.split('.');
  switch (kind) {
    case 'digit': return value === 'erase' ? t('command.digit.erase') : num(Number(value));
    case 'flush': return t('round.flush', { n: Number(value) });
    case 'purpose': return t(`purpose.${value}`);
    default: return value ? choiceName(kind, value) : t(`command.${word}`);
  }
}

/** The card's groups in the order of the day; each command stands in exactly one. */
export function cardGroups(): { title: string; tags: { code: string; text: string }[] }[] {
  const kinds = new Map<string, string[]>();
  for (const word of COMMANDS) {
    const kind = word.includes('.') ? word.slice(0, word.indexOf('.')) : 'round';
    kinds.set(kind, [...(kinds.get(kind) ?? []), word]);
  }
  return [...kinds].map(([kind, words]) => ({
    title: t(`card.${kind}`), tags: words.map((word) => ({ code: codeOf(word), text: commandName(word) })),
  }));
}

export function Papers() {
  const name = app().device.value?.name ?? '';
  // A farm that speaks American prints on Letter; every other on A4.
  const page = { language: language.value, paper: language.value === 'en-US' ? 'letter' : 'a4' };
  const card = (): Promise<Blob> => app().paper('card', { ...page, title: t('papers.card.title', { farm: name }), words: t('papers.card.words'), groups: cardGroups() });
  const sheet = (): Promise<Blob> => app().paper('day-sheet', {
    ...page,
    title: t('papers.sheet.title', { farm: name }), words: t('papers.sheet.words'),
    date: t('papers.sheet.date'), by: t('papers.sheet.by'),
    columns: ['time', 'act', 'what', 'n', 'to', 'g', 'note'].map((c) => t(`papers.sheet.${c}`)),
    acts: `${t('papers.sheet.acts')} ${ROW_ACTS.map((act) => t(`day.act.${act}`)).join(' · ')}`,
  });
  return (
    <main class="screen" id="main">
      <Head title={t('floor.papers')} sub={t('floor.papers.about')} />
      <div class="sides">
        <Pdf title={t('papers.card')} about={t('papers.card.about')} name="command-card" make={card} />
        <Pdf title={t('papers.sheet')} about={t('papers.sheet.about')} name="day-sheet" make={sheet} />
      </div>
    </main>
  );
}
