/** Everything else, in words. */
import { t } from '../i18n';
import { app } from '../ui/app';
import { menu } from '../ui/menu';
import { to } from '../ui/route';
import { Head } from './parts';

export function More() {
  const waiting = app().questions.value.length + app().held.value.length;
  return (
    <main class="screen" id="main">
      <Head title={t('nav.more')} root />
      <ul class="list">
        {menu().map((name) => (
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
