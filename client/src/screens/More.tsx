/** Everything else, in words. */
import { t } from '../i18n';
import { app, helper } from '../ui/app';
import { to } from '../ui/route';
import { Head } from './parts';

const SCREENS = [
  'answers',
  'rounds',
  'new-batch',
  'opening',
  'loads',
  'inoculate',
  'harvest',
  'bench',
  'move',
  'rooms',
  'setup',
  'labels',
  'records',
  'settings',
];

export function More() {
  const waiting = app().questions.value.length + app().held.value.length;
  const shown = SCREENS.filter((name) => !helper.value || name === 'settings');
  return (
    <main class="screen" id="main">
      <Head title={t('nav.more')} root />
      <ul class="list">
        {shown.map((name) => (
          <li key={name}><a href={to(name)}>
            <b>{t(`screen.${name}`)}</b>
            {name === 'answers' && waiting > 0 ? <span class="count">{waiting}</span> : <span />}
            <span class="sub">{t(`about.${name}`)}</span>
          </a></li>
        ))}
      </ul>
    </main>
  );
}
