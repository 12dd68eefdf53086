/** Labels ahead of need: paper, layout, blank rolls, tags, prints and the survival test. In the desk's file: one of
 * its own would make the bundler cut the first load in two, which packs worse. */
import '../i18n/rest';
import '../style/later.css';
import '../style/labels.css';
import type { ComponentChildren } from 'preact';
import { t } from '../i18n';
import { to, type Route } from '../ui/route';
import { LabelBlank } from './LabelBlank';
import { LabelLayout } from './LabelLayout';
import { LabelPrints } from './LabelPrints';
import { LabelStock } from './LabelStock';
import { LabelTags } from './LabelTags';
import { LabelTest } from './LabelTest';
import { Head } from './parts';

/** The screen of a route, or null where it is none of these. */
export function labelsScreen({ name, args: [a = ''] }: Route): ComponentChildren {
  if (name !== 'labels') return null;
  switch (a) {
    case 'blank': return <LabelBlank />;
    case 'tags': return <LabelTags />;
    case 'prints': return <LabelPrints />;
    case 'stock': return <LabelStock />;
    case 'layout': return <LabelLayout />;
    case 'test': return <LabelTest />;
    default: return <Labels />;
  }
}

function Labels() {
  return (
    <main class="screen" id="main">
      <Head title={t('screen.labels')} sub={t('about.labels')} />
      <ul class="list">{['blank', 'tags', 'prints', 'stock', 'layout', 'test'].map((one) => (
        <li key={one}><a href={to('labels', one)}><b>{t(`label_set.${one}`)}</b><span /><span class="sub">{t(`label_set.${one}.about`)}</span></a></li>
      ))}</ul>
    </main>
  );
}
