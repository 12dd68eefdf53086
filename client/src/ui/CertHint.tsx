/** Beside "no answer": says so when it is the certificate, not the network. */
import { useEffect, useState } from 'preact/hooks';
import { learnPlainPort, plainAnswers } from '../cert-hint';
import { t } from '../i18n';
import '../i18n/rest';
import { app } from './app';
import { ErrorNote } from './Notes';

export function CertHint() {
  const state = app().link.value.state;
  const [plain, setPlain] = useState<string | null>(null);
  useEffect(() => {
    setPlain(null);
    let gone = false;
    if (state === 'ok') void learnPlainPort();
    else if (state === 'silent') void plainAnswers().then((base) => { if (!gone) setPlain(base); });
    return () => { gone = true; };
  }, [state]);
  if (!plain) return null;
  return (
    <>
      <ErrorNote what={t('cert_hint.what')} todo={t('cert_hint.todo')} />
      <a class="btn" href={plain}>{t('cert_hint.go')}</a>
    </>
  );
}
