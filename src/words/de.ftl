# German, with formal address. The same messages and variables as `en.ftl`.
# Unreviewed: no native speaker has read these words yet. The page's foot says so; `words.rs` holds which are.

## Dates and numbers

month-1 = Januar
month-2 = Februar
month-3 = März
month-4 = April
month-5 = Mai
month-6 = Juni
month-7 = Juli
month-8 = August
month-9 = September
month-10 = Oktober
month-11 = November
month-12 = Dezember
weekday-1 = Montag
weekday-2 = Dienstag
weekday-3 = Mittwoch
weekday-4 = Donnerstag
weekday-5 = Freitag
weekday-6 = Samstag
weekday-7 = Sonntag
weekday-short-1 = Mo
weekday-short-2 = Di
weekday-short-3 = Mi
weekday-short-4 = Do
weekday-short-5 = Fr
weekday-short-6 = Sa
weekday-short-7 = So
month-short-1 = Jan
month-short-2 = Feb
month-short-3 = Mär
month-short-4 = Apr
month-short-5 = Mai
month-short-6 = Jun
month-short-7 = Jul
month-short-8 = Aug
month-short-9 = Sep
month-short-10 = Okt
month-short-11 = Nov
month-short-12 = Dez
date = { $weekday }, { $day }. { $month }
date-with-year = { $day }. { $month } { $year }
full-date = { $weekday }, { $date }
month-of-year = { $month } { $year }
today = heute
tomorrow = morgen
yesterday = gestern
on-day = am { $date }
moment = { $date }, { $time } Uhr
range-of-days = { $from } bis { $to }
slot-morning = morgens
slot-evening = abends
slot-other = sonst
decimal-mark = ,

## The frame of every page

app = quietcuff
skip = Zum Inhalt springen
pages = Seiten
nav-now = Jetzt
nav-household = Alle heute
nav-week = Diese Tage
nav-earlier = Früher
nav-sheet = Für die Praxis
nav-notes = Notizen
nav-questions = Offene Fragen
nav-monitors = Messgeräte
nav-people = Personen
nav-set-up = Einmal einrichten
whose-page = Wessen Seite
find-label = Nach einem Namen suchen
find-do = Suchen
find-shown = { $from }–{ $to } von { $n }
find-none = Niemand und nichts heißt so.
find-parts = Teile
find-more = Und { $n } weitere
find-whose = Jemand anderes
everybody = Alle
language-name = Deutsch
unreviewed = Diese deutschen Wörter hat noch niemand geprüft, dessen Muttersprache Deutsch ist. Im Zweifel gelten die englischen.
leave = Diese Seite verlassen
not-an-alarm = Diese Seite ist kein Alarm: Ein ausgeschaltetes Programm oder ein gestörter Funk warnt niemanden. Beschwerden gehen vor, gleich was die Zahlen sagen. Die Seite stellt keine Diagnose und rät zu keinem Medikament.
read-only = Sie können hier alles ansehen und nichts ändern.
nobody-yet = Noch ist niemand eingetragen. Fügen Sie eine Person und ein Messgerät hinzu, gleich in welcher Reihenfolge.
connection-lost = Seit { $time } Uhr antwortet der Server nicht. Was Sie sehen, kann alt sein.
no-script = Diese Seite erneuert sich alle paar Sekunden.
aloud = Klang und Stimme
aloud-asleep = Berühren Sie die Seite einmal: Bis dahin lässt dieser Browser nichts hören.
aloud-no-voice = Dieser Browser hat keine eigene Stimme für { $language }: Es erklingt nur der Ton.
awake = Bildschirm anlassen, solange jemand misst

## Now: what to do next

title-now = Jetzt
step-rest = Hinsetzen und ruhen
step-rest-say = Fünf Minuten ruhig sitzen. Dann die Taste am Gerät drücken.
step-rest-wait = Warten bis { $time }
step-rest-wait-say = Dann ist es eine halbe Stunde nach dem, was Sie notiert haben. Danach fünf Minuten ausruhen und messen.
step-rest-slot = Die Messrunde { $slot } ist fällig.
step-rest-again = In der letzten Runde zählten { $counted } von { $wanted } Messungen. Fangen Sie noch einmal an, oder lassen Sie es für heute.
step-resting = Ausruhen
step-resting-say = Sitzen Sie still, atmen Sie ruhig, sprechen Sie nicht. Danach kommt die erste Messung.
step-rested = Taste drücken
step-rested-say = Die fünf Minuten sind um. Machen Sie jetzt die erste Messung.
step-measuring = Still halten
step-measuring-say = Nicht sprechen. Den Arm liegen lassen.
cuff-rising = Druck der Manschette steigt
cuff-falling = Druck der Manschette fällt
cuff-pressure = Druck der Manschette
step-wait = Warten
step-wait-second = Die Manschette bleibt am Arm. Gleich kommt die zweite Messung.
step-wait-third = Die Manschette bleibt am Arm. Gleich kommt eine dritte Messung: Die ersten beiden liegen mehr als { $limit } mmHg auseinander.
step-wait-more = Die Manschette bleibt am Arm. Gleich kommt Messung { $number } von { $wanted }.
step-second = Taste drücken
step-second-say = Machen Sie jetzt die zweite Messung.
step-third = Taste drücken
step-third-say = Machen Sie jetzt eine dritte Messung: Die ersten beiden liegen mehr als { $limit } mmHg auseinander.
step-more-say = Machen Sie jetzt Messung { $number } von { $wanted }.
step-repeat = Nochmals messen
step-repeat-wait = Warten, dann neu messen
step-repeat-say = Die letzte Messung wurde beiseitegelegt und kommt nicht in den Durchschnitt.
step-done = Fertig
step-done-say = Nehmen Sie die Manschette ab.
step-done-between = Die Messrunde { $slot } ist vollständig.
step-not-due = Nichts zu tun
step-not-due-say = Wenn Sie trotzdem messen, wird es aufgehoben.
step-over = Diese Tage sind vorbei
days-begin = Die Tage beginnen { $day }.
coming = Nächste Messrunde: { $day } ab { $time } Uhr ({ $slot }).
coming-none = Es ist keine weitere Messrunde geplant.
help-again = Nochmals messen
help-wait = Ruhig sitzen
help-today = Rufen Sie heute Ihre Praxis an
help-now = Rufen Sie jetzt Ihre Praxis an
help-emergency = Wählen Sie jetzt den Notruf
help-low = Setzen oder legen Sie sich hin
help-ask = Ist es etwas davon?
help-tell = Etwas für Ihre Praxis
then-otherwise = Danach: { $step }
start-rest = Fünf Minuten ruhen
stop-rest = Ruhe beenden
last-reading = Letzte Messung
readings-so-far = Messungen dieser Runde
pulse = Puls { $pulse }
set-aside = beiseitegelegt
marked = gezählt, mit einem Hinweis
counted = gezählt
good = Was gut war
good-two = { $n } Messungen mit mindestens einer Minute dazwischen
good-alone = Alle zählen
good-nothing-noted = Nichts daran zu verbessern
change = Für das nächste Mal
change-nothing = Nichts. Machen Sie es wieder so.
feel-unwell = Mir geht es nicht gut
call = { $who } anrufen
turn-next = Als Nächstes: { $who }
since-moment = Seit { $moment }.
answer-title = Was wurde getan?
answer-say = Dies bleibt stehen, bis jemand sagt, was getan wurde, oder bis spätere Messungen es klären.
answer-called-emergency = Der Notruf wurde gewählt
answer-contacted-clinic = Die Praxis oder der ärztliche Bereitschaftsdienst wurde angerufen
answer-looked-after = Es wurde danach gesehen; niemand wurde angerufen
undelivered = Eine Nachricht, die nicht warten darf, konnte seit { $moment } über „{ $route }“ nicht zugestellt werden. Sagen Sie es den anderen selbst.
nobodys-say = Sagen, wer gemessen hat
unwell-title = Was jetzt zu tun ist
unwell-kept = Notiert um { $time } Uhr.
unwell-not-kept = Es wurde NICHT notiert, also erfährt es sonst niemand: { $why }
unwell-why-form = Das Formular kam nicht von dieser Seite, oder die Seite war zu alt.
unwell-why-key = Ihr Schlüssel öffnet das nicht.
unwell-why-journal = In das Journal kann gerade nicht geschrieben werden.
unwell-why-person = Unter diesem Namen ist niemand bekannt.
unwell-again = Noch einmal notieren
unwell-next = Zum nächsten Schritt
technique = So sitzen Sie richtig
technique-1 = Blase leer
technique-2 = Rücken angelehnt
technique-3 = Füße flach am Boden
technique-4 = Beine nicht übereinander
technique-5 = Arm auf dem Tisch, in Höhe des Herzens
technique-6 = Manschette am bloßen Arm
technique-7 = Nicht sprechen
posture-1 = Zeichnung: eine Toilette
posture-2 = Zeichnung: jemand sitzt am Tisch, den Rücken an der Lehne
posture-3 = Zeichnung: die Sohlen liegen flach am Boden
posture-4 = Zeichnung: zwei Beine nebeneinander
posture-5 = Zeichnung: der Unterarm liegt auf dem Tisch, die Manschette in Höhe des Herzens
posture-6 = Zeichnung: eine Manschette um den bloßen Oberarm, der Ärmel hochgeschoben
posture-7 = Zeichnung: eine durchgestrichene Sprechblase
elapsed = Vergangene Zeit
cuff-column = Eine Säule in einem Rohr: { $pressure } { $unit }, auf einer Skala von 0 bis { $most }
source-of = Quelle: { $source }

## What must not wait; the limits and the words are those of the guidelines named with them

alert-very-high-measure-again = Eine Messung ist sehr hoch. Sitzen Sie 5 Minuten ruhig und messen Sie noch einmal. Ist der obere Wert dann noch { $systolic } oder höher, oder der untere { $diastolic } oder höher, rufen Sie heute Ihre Praxis oder den ärztlichen Bereitschaftsdienst an.
alert-very-high-contact-today = Es wurde noch einmal gemessen, und es ist immer noch sehr hoch. Rufen Sie heute Ihre Praxis oder den ärztlichen Bereitschaftsdienst an.
alert-very-high-emergency = Eine Messung ist sehr hoch, und es wurden Beschwerden notiert. Wählen Sie jetzt den Notruf. Warten Sie nicht ab, ob der Blutdruck sinkt.
alert-very-high-tell-clinic = Auf eine sehr hohe Messung folgten Messungen, die deutlich niedriger sind. Alle stehen im Bericht für Ihre Praxis.
alert-very-high-in-pregnancy-contact-now = Eine Messung ist sehr hoch. Rufen Sie jetzt Ihre Geburtsklinik oder Ihre Praxis an, und messen Sie nach 15 Minuten noch einmal. Ist der obere Wert dann noch { $systolic } oder höher, oder der untere { $diastolic } oder höher, ist es ein Notfall.
alert-very-high-in-pregnancy-emergency = Das ist sehr hoch, und es hält an oder es wurden Beschwerden notiert. Wählen Sie jetzt den Notruf. Warten Sie nicht ab, ob der Blutdruck sinkt.
alert-very-high-in-pregnancy-tell-clinic = Auf eine sehr hohe Messung folgten Messungen, die deutlich niedriger sind. Alle stehen im Bericht für Ihre Praxis.
alert-high-in-pregnancy-measure-again = Eine Messung ist hoch für die Schwangerschaft und die Wochen nach der Geburt. Sitzen Sie ruhig und messen Sie nach 15 Minuten noch einmal. Ist der obere Wert dann noch { $systolic } oder höher, oder der untere { $diastolic } oder höher, rufen Sie heute Ihre Geburtsklinik oder Ihre Praxis an.
alert-high-in-pregnancy-contact-today = Es wurde noch einmal gemessen, und es ist immer noch hoch für die Schwangerschaft und die Wochen nach der Geburt. Rufen Sie heute Ihre Geburtsklinik oder Ihre Praxis an.
alert-high-in-pregnancy-contact-now = Das ist hoch für die Schwangerschaft und die Wochen nach der Geburt, und es wurden Beschwerden notiert. Rufen Sie jetzt Ihre Geburtsklinik oder Ihre Praxis an.
alert-very-low-measure-again = Eine Messung ist sehr niedrig. Setzen oder legen Sie sich hin und messen Sie nach 5 Minuten noch einmal. Ist es dann noch unter { $systolic }, oder fühlen Sie sich der Ohnmacht nahe, schwindlig oder unwohl, rufen Sie jetzt Ihre Praxis oder den ärztlichen Bereitschaftsdienst an.
alert-very-low-contact-now = Das ist sehr niedrig, und es wurde noch einmal gemessen oder es wurden Beschwerden notiert. Setzen oder legen Sie sich hin, und rufen Sie jetzt Ihre Praxis oder den ärztlichen Bereitschaftsdienst an.
alert-low-measure-again = Eine Messung ist niedrig. Setzen oder legen Sie sich hin und messen Sie nach 5 Minuten noch einmal. Fühlen Sie sich der Ohnmacht nahe, schwindlig oder unwohl, rufen Sie heute Ihre Praxis oder den ärztlichen Bereitschaftsdienst an.
alert-low-tell-clinic = Es wurde noch einmal gemessen, und es ist immer noch niedrig. Geht es Ihnen gut, sagen Sie es Ihrer Praxis beim nächsten Besuch. Fühlen Sie sich der Ohnmacht nahe, schwindlig oder unwohl, setzen oder legen Sie sich hin und notieren Sie es hier.
alert-low-contact-today = Das ist niedrig, und es wurden Beschwerden notiert. Setzen oder legen Sie sich hin, und rufen Sie heute Ihre Praxis oder den ärztlichen Bereitschaftsdienst an.
alert-pulse-contact-now = Der Puls dieser Messung ist sehr { $speed ->
    [slow] langsam
   *[fast] schnell
}: { $pulse }. Rufen Sie jetzt Ihre Praxis oder den ärztlichen Bereitschaftsdienst an. Wenn Sie ohnmächtig werden, muss der Notruf gewählt werden.
alert-pulse-note = Der Puls dieser Messung ist { $speed ->
    [slow] langsam
   *[fast] schnell
}: { $pulse }. Sagen Sie es Ihrer Praxis, wenn es so bleibt, und sofort, wenn es Ihnen nicht gut geht.
alert-symptoms-emergency = Beschwerden gehen vor, gleich was die Zahlen sagen. Wählen Sie bei den notierten Beschwerden jetzt den Notruf.
alert-symptoms-contact-now = Beschwerden gehen vor, gleich was die Zahlen sagen. Rufen Sie bei den notierten Beschwerden jetzt Ihre Praxis, Ihre Geburtsklinik oder den ärztlichen Bereitschaftsdienst an.
alert-symptoms-contact-today = Beschwerden gehen vor, gleich was die Zahlen sagen. Fühlen Sie sich der Ohnmacht nahe, schwindlig oder unwohl, setzen oder legen Sie sich hin, und rufen Sie heute Ihre Praxis oder den ärztlichen Bereitschaftsdienst an.
alert-symptoms-ask = Es wurden Worte notiert, die nicht in der Liste stehen. Ist es eine dieser Beschwerden?
alert-irregular-pulse = Das Messgerät hat in mehreren Messrunden einen unregelmäßigen Puls gemeldet. Sagen Sie es Ihrer Praxis; was es ist, zeigt nur ein EKG.
emergency-if = Bei Brustschmerzen, Atemnot, hängendem Gesicht, plötzlicher Schwäche oder Taubheit, Mühe beim Sprechen, Verlust des Sehens, Verwirrtheit, einem Krampfanfall, starken Kopf- oder Rückenschmerzen oder einer Ohnmacht: Wählen Sie jetzt den Notruf.
pregnancy-if = Bei starken Kopfschmerzen, verschwommenem Sehen oder Flimmern, starken Schmerzen gleich unter den Rippen, Erbrechen oder plötzlicher Schwellung von Gesicht, Händen oder Füßen: Rufen Sie sofort Ihre Geburtsklinik an, gleich was die Zahlen sagen.
no-extra-medicine = Nehmen Sie wegen einer Messung kein zusätzliches Medikament.

## These days: the period, day by day

title-week = Diese Tage
period-line = { $days }, nach dem Messplan { $protocol }.
period-day = Tag { $day } von { $days }
column-day = Tag
average = Durchschnitt
average-exact = Mit einer Nachkommastelle { $average },
mean-mornings = Morgens { $mean }, { $n ->
    [one] { $n } Messung
   *[other] { $n } Messungen
}
mean-evenings = Abends { $mean }, { $n ->
    [one] { $n } Messung
   *[other] { $n } Messungen
}
progress = Messrunden dieser Tage
place-complete = vollständig
place-begun = begonnen, nicht vollständig
place-missed = keine gekommen
place-due = jetzt fällig
place-to-come = kommt noch
picture-title = Messungen von { $who }, { $days }
picture-readings = { $counted } gezählt, { $marked } gezählt mit einem Hinweis, { $aside } beiseitegelegt. In der Tabelle steht jeder Wert.
picture-readings-say = Jeder Strich ist eine Messung, vom oberen Wert bis zum unteren, in mmHg. An jedem Tag steht der Morgen links und der Abend rechts. Unterbrochene Linien: die Werte, mit denen der Durchschnitt verglichen wird.
picture-points = Mittelwerte von { $n ->
    [one] { $every ->
        [day] einem Tag
        [week] einer Woche
       *[month] einem Monat
    }
   *[other] { $n } { $every ->
        [day] Tagen
        [week] Wochen
       *[month] Monaten
    }
}, der erste { $first }, der letzte { $last } mmHg. Messungen in der Praxis: { $clinic }. Änderungen von Medikamenten: { $changes }.
picture-points-say = Jedes Paar von Punkten ist der Mittelwert { $every ->
    [day] eines Tages
    [week] einer Woche
   *[month] eines Monats
}, oberer und unterer Wert, in mmHg; die Linie durch einen Punkt reicht von der niedrigsten bis zur höchsten Messung. Ein offener Punkt hat Messungen an weniger als drei Tagen.
not-begun = Noch nicht begonnen
not-begun-say = Die Tage beginnen, wenn Sie es sagen. Bis dahin wird nichts versäumt, und jede Messung wird trotzdem aufgehoben.
period-over = Diese Tage sind vorbei.
period-over-next = Nehmen Sie den Bericht mit in Ihre Praxis. Beginnen Sie wieder, wenn die Praxis es möchte.
sheet-open-week = Der Bericht für die Praxis
title-household = Alle heute
household-waiting = { $n ->
    [one] { $n } Frage wartet auf eine Antwort.
   *[other] { $n } Fragen warten auf eine Antwort.
}
household-missed = { $n ->
    [0] Von diesen Tagen fehlt keine Messrunde.
    [one] Von diesen Tagen fehlt { $n } Messrunde.
   *[other] Von diesen Tagen fehlen { $n } Messrunden.
}
household-average = Durchschnitt { $average } mmHg
household-before = Davor { $average } mmHg
household-last = Letzte Messung: { $moment }
household-told = Wem es gesagt wurde
household-told-what = { $kind ->
    [urgent] Messung oder Beschwerden, die nicht warten dürfen
    [session-due] Eine Messrunde ist fällig
    [half-done] Eine Messrunde ist halb gemacht
    [missed] Eine Messrunde wurde versäumt
    [period-finished] Die Tage sind vorbei
    [after-birth] Die Grenzen der Schwangerschaft gelten nicht mehr
   *[other] Etwas anderes
}, über „{ $route }“, { $moment }: { $standing ->
    [sent] gesagt
   *[not-sent] nicht gesagt
}
average-of = { $n ->
    [one] aus { $n } Messung
   *[other] aus { $n } Messungen
} an { $days ->
    [one] { $days } Tag
   *[other] { $days } Tagen
}
average-interval = Sehr wahrscheinlich { $systolic } systolisch und { $diastolic } diastolisch.
interval-range = { $low } bis { $high }
average-not-yet = Noch kein Durchschnitt
average-not-yet-say = Ein Durchschnitt wird gezeigt, sobald es genug Messungen gibt, um ihm zu trauen. Bisher sind { $sessions } von { $expected } Messrunden da.
threshold-line = Verglichen mit { $systolic }/{ $diastolic } mmHg ({ $source }): Der Durchschnitt liegt { $where ->
    [above] darauf oder darüber. Was das bedeutet, kann nur eine Ärztin oder ein Arzt sagen.
   *[below] darunter.
}
target-by = Gewählt von { $said }.
target-source = Quelle: { $said }.
target-line = Das Ziel der Praxis ist unter { $systolic }/{ $diastolic } mmHg: Der Durchschnitt liegt { $where ->
    [below] darunter.
   *[not-below] nicht darunter.
}
superseded-by = Dieser Messplan wurde abgelöst durch { $by }.
labels-off = Bei dieser Person wird kein Grenzwert angelegt.
caution-average = Das ist ein Durchschnitt und keine Diagnose. Beginnen, beenden oder ändern Sie deswegen kein Medikament.
session-missed = keine gekommen
session-to-come = kommt noch
session-due = jetzt fällig
sessions-there = { $sessions } von { $expected } Messrunden
readings-set-aside = { $n ->
    [0] Keine Messung wurde beiseitegelegt.
    [one] { $n } Messung wurde beiseitegelegt; sie steht mit ihrem Grund in der Tabelle.
   *[other] { $n } Messungen wurden beiseitegelegt; sie stehen mit ihren Gründen in der Tabelle.
}
medicine-changed-within = In diesen Tagen wurde ein Medikament geändert ({ $days }): Der Durchschnitt mischt vorher und nachher.
balance-even = { $mornings } morgens und { $evenings } abends.
balance-uneven = Nicht ausgewogen: { $mornings } morgens und { $evenings } abends; ein ausgewogener Durchschnitt hat mindestens { $mornings-min } morgens und { $evenings-min } abends.
balance-sittings = Mit gleichem Gewicht für jede Messreihe wäre er { $mean }.
interval-too-wide = Die Tage sind zu wenige oder zu verschieden, um zu sagen, wie genau er ist
outside-sessions = { $n ->
    [one] { $n } Messung liegt außerhalb jeder Messrunde und ist nicht in diesem Durchschnitt; mit ihr wäre er { $with }.
   *[other] { $n } Messungen liegen außerhalb jeder Messrunde und sind nicht in diesem Durchschnitt; mit ihnen wäre er { $with }.
}
shapes = Gefüllt: gezählt. Offen: gezählt, mit einem Hinweis. Durchgestrichen: beiseitegelegt, nicht im Durchschnitt.
table-week = Messungen in mmHg, systolisch über diastolisch

## Earlier: every reading

title-earlier = Früher
table-earlier = Messungen im { $month }, systolisch über diastolisch
column-time = Zeit
column-values = mmHg
column-pulse = Puls
months = Monate
span = Wie viel davon
span-year = Ein Jahr, Woche für Woche
span-all = Alle Jahre, Monat für Monat
picture-tap = Tippen Sie auf { $every ->
    [day] einen Tag, um ihn
    [week] eine Woche, um sie
   *[month] einen Monat, um ihn
} zu öffnen.
picture-clinic = Kreuze, in der Praxis: { $readings }.
picture-changes = Senkrechte unterbrochene Linien, Medikament geändert: { $days }.
table-parts = Dasselbe als Tabelle, { $every ->
    [day] Tag für Tag
    [week] Woche für Woche
   *[month] Monat für Monat
}
column-from = Ab
column-readings = Messungen
no-readings = Keine Messung in diesem Monat.
no-readings-yet = Noch keine Messung gekommen. Die erste erscheint hier von selbst.
newer-month = Neuer: { $month }
older-month = Älter: { $month }

## For the clinic

title-sheet = Für die Praxis
sheet-say = Eine Seite, die man in der Praxis in einer Minute liest, dann jede Messung. Der Bericht wird in diesem Augenblick gemacht und verlässt dieses Haus nur mit Ihnen.
sheet-from = Erster Tag
sheet-days = Anzahl der Tage
sheet-default = Leer gelassen: der laufende Zeitraum, sonst der letzte.
sheet-open = Zeigen
sheet-pdf = PDF, A4
sheet-pdf-letter = PDF, US Letter
sheet-none = Es gibt noch nichts für einen Bericht.
sheet-list-all = Jede Messung aufführen, auch aus mehr als 31 Tagen
sheet-too-many = { $n } Messungen sind mehr, als ein Bericht fasst ({ $most }): Nehmen Sie weniger Tage.
empty-days = { $who } hat vom { $from } bis { $to } keine Messung; { $near }
empty-at-all = es gibt überhaupt noch keine Messung
empty-before = die letzte davor war am { $before }
empty-after = die erste danach war am { $after }
empty-between = die nächsten sind am { $before } und am { $after }

## The sheet for the clinic

short-date = { $day }. { $month } { $year }
short-day = { $weekday }, { $date }
day-of-month = { $day }. { $month }
plot-day = { $weekday } { $day }. { $month }
list-and = { $most } und { $last }
not-stated = nicht angegeben
unit-d = T
unit-h = Std
unit-min = Min
unit-s = Sek
arms-between = Arme von { $min } bis { $max } cm
arms-from = Arme ab { $min } cm
arms-to = Arme bis { $max } cm
sheet-number = Blatt { $number } von { $all }
sheet-letters-missing = Einige Zeichen hat keine Schrift des Rechners, der diese Datei gemacht hat: Sie stehen als „?“. Der Bericht als HTML zeigt sie, und Text, der von hier kopiert wird, enthält sie auch.
sheet-no-font = Keine Schrift dieses Rechners hat Zeichen, die dieser Bericht braucht ({ $scripts }), darum wurde kein PDF gemacht. Installieren Sie auf dem Server { $packages }, oder nehmen Sie den Bericht, wie er hier gezeigt wird.
sheet-title = Blutdruck zu Hause von { $who }
sheet-whose = { $about }. { $days }. Messplan: { $title } ({ $name }).
sheet-born = geboren { $born }
sheet-record-number = Patientennummer { $number }
sheet-left-arm = linker Arm
sheet-right-arm = rechter Arm
sheet-average = Durchschnitt aus { $n ->
    [one] { $n } Messung
   *[other] { $n } Messungen
} an { $days ->
    [one] { $days } Tag
   *[other] { $days } Tagen
}{ $pulse ->
    [none] .
   *[other] , Puls { $pulse } pro Minute.
}
sheet-interval = Das 95-%-Intervall reicht systolisch von { $systolic } und diastolisch von { $diastolic }.
sheet-no-average = Kein Durchschnitt
sheet-no-average-say = Zu wenige Messungen für einen Durchschnitt ({ $there }). Es wird kein Durchschnitt gezeigt, denn eine Zahl, die gezeigt wird, wird auch verwendet.
sheet-none-counts = keine zählt
sheet-no-threshold = Es gilt kein Grenzwert: { $why }
sheet-threshold-reached = Am Grenzwert von { $limits } mmHg oder darüber: { $which }. Was das bedeutet, kann nur eine Ärztin oder ein Arzt sagen.
sheet-threshold-below = Unter dem Grenzwert von { $limits } mmHg.
sheet-threshold-would = Der Grenzwert wäre { $limits } mmHg.
sheet-threshold-exact = Der genaue { $which ->
    [systolic] systolische
   *[diastolic] diastolische
} Durchschnitt ist { $exact }, unter { $limit }.
sheet-threshold-source = Grenzwert: { $source }
sheet-set-by-clinic = von der Praxis der Person festgelegt
sheet-band = Das Wort der Leitlinie selbst: { $name } ({ $source }).
sheet-go-on = So nah am Grenzwert geht der Messplan weiter bis auf { $days } Tage.
reached-systolic = systolisch
reached-diastolic = diastolisch
reached-morning-systolic = morgens systolisch
reached-morning-diastolic = morgens diastolisch
reached-evening-systolic = abends systolisch
reached-evening-diastolic = abends diastolisch
sheet-caution = Das ist ein Durchschnitt, keine Diagnose. Beschwerden gehen vor, was immer die Zahlen sagen. Beginnen, beenden oder ändern Sie deswegen kein Medikament. Ein Programm, das aus ist, schlägt keinen Alarm. Erstellt am { $moment }.
sheet-trouble = Stand beim Erstellen: { $what }, seit { $since }.
sheet-trouble-since-unknown = Stand beim Erstellen: { $what }, niemand weiß seit wann.
trouble-not-running = es kommen keine Messungen an, denn das Programm, das empfängt, läuft nicht
trouble-no-answer = es kommen keine Messungen an, denn das Programm, das empfängt, antwortet nicht
trouble-no-bluetooth = es kommen keine Messungen an, denn der Bluetooth-Dienst läuft nicht
trouble-no-adapter = es kommen keine Messungen an, denn es gibt keinen Bluetooth-Adapter
trouble-off = es kommen keine Messungen an, denn der Bluetooth-Adapter ist aus
trouble-radio = es kommen keine Messungen an: { $detail }
trouble-disk = Messungen werden nicht aufbewahrt: { $detail }
trouble-clock = es ist nicht sicher, dass die Uhr des Servers stimmt
trouble-silent = das Messgerät { $detail } schweigt länger als sonst
trouble-delivery = Messungen erreichen den Server der Praxis nicht: { $detail }
trouble-not-delivering = Messungen warten auf den Weg zum Server der Praxis, denn das Programm, das sie übergibt, läuft nicht
sheet-raised = { $about } am { $moment }
about-symptoms = Beschwerden
about-very-high = Sehr hoch
about-very-high-in-pregnancy = Sehr hoch in der Schwangerschaft
about-high-in-pregnancy = Hoch in der Schwangerschaft
about-very-low = Sehr niedrig
about-low = Niedrig
about-pulse = Puls
about-irregular-pulse = Unregelmäßiger Puls
sheet-urgent-told = Was dem Haushalt gesagt wurde, steht unter „{ $heading }“.
sheet-urgent-more = { $n } weitere dieser Art, alle unter „{ $heading }“.
sheet-answered = { $moment }: { $what }.
sheet-answered-by = { $moment }: { $what }, sagt { $by }.
sheet-settled = Spätere Messungen haben es erledigt, am { $moment }.
sheet-overtaken = Am { $moment } kam ein anderer Hinweis an seine Stelle.
sheet-unanswered = Niemand hat gesagt, was getan wurde.
sheet-low-diastolic = Niedrig diastolisch: { $n } von { $all ->
    [one] { $all } Messung
   *[other] { $all } Messungen
} haben einen diastolischen Wert unter { $limit } mmHg, davon { $very-low } unter { $very-low-limit }; der niedrigste ist { $lowest }. Niemand wurde deswegen alarmiert.
sheet-standing = Beim Aufstehen am { $say } Quelle: NICE 2023 und ESC 2024 nennen einen Abfall um 20/10; die Minuten zählen ab der letzten Messung in Ruhe.
table-averages = Durchschnitte in mmHg, systolisch über diastolisch
column-systolic-95 = 95 % systolisch
column-diastolic-95 = 95 % diastolisch
column-days = Tage
row-all-days = Aus allen Tagen
row-protocol-without-first = Nach dem Messplan, ohne den ersten Tag
row-protocol-all-days = Nach dem Messplan, aus allen Tagen
row-without-first = Ohne den ersten Tag
row-mornings = Morgens
row-evenings = Abends
row-first-mornings = Erste Messung jedes Morgens
row-standing = Im Stehen, nicht im Durchschnitt
row-lying = Im Liegen, nicht im Durchschnitt
row-night = Nachts, nicht im Durchschnitt
below-plot-stems = Jede Messung ist ein dünner Strich von systolisch bis diastolisch. Beiseitegelegte sind kurze Striche am unteren Rand; die Tabelle trennt gezählt von markiert.
below-plot-days = An jedem Tag steht der Morgen links, der Abend rechts; eine versäumte Messrunde lässt eine Lücke.
below-plot-dashed = Gestrichelt: der Grenzwert.
below-plot-dashed-across = Von links nach rechts gestrichelt: der Grenzwert.
below-plot-left-out = { $n ->
    [one] { $n } Messung ohne Zeit oder möglichen Wert steht nur in der Tabelle.
   *[other] { $n } Messungen ohne Zeit oder möglichen Wert stehen nur in der Tabelle.
}
below-plot-every = Jeder Punkt ist der Mittelwert { $every ->
    [day] eines Tages
    [week] einer Woche
   *[month] eines Monats
}, seine Linie reicht von der niedrigsten bis zur höchsten Messung, die zählt.
below-plot-aside = { $n ->
    [one] { $n } Messung
   *[other] { $n } Messungen
} beiseitegelegt: unten gezählt, nicht gezeichnet.
sheet-completeness = { $sessions } von { $expected } Messrunden. { $n ->
    [one] { $n } Messung
   *[other] { $n } Messungen
}: { $counted } gezählt, davon { $marked } markiert{ $marked-why }; { $aside } beiseitegelegt{ $aside-why }.
sheet-nobodys = { $n ->
    [one] { $n } weitere Messung dieser Tage gehört noch niemandem.
   *[other] { $n } weitere Messungen dieser Tage gehören noch niemandem.
}
sheet-mornings-and-evenings = Morgens und abends
sheet-heavy-ticks = Die dicken Striche rechts sind die Mittelwerte.
sheet-every-day = Tag für Tag
sheet-every-week = Woche für Woche
sheet-every-month = Monat für Monat
sheet-sure = Wie sicher der Durchschnitt ist
sheet-to-look-at = Für die Ärztin oder den Arzt
sheet-complete = Wie vollständig der Zeitraum war
sheet-vary = Wie die Messungen schwanken
sheet-reasons = Warum Messungen markiert oder beiseitegelegt wurden
sheet-readings = Alle Messungen
sheet-noted = In diesen Tagen notiert
sheet-monitor = Das Messgerät
sheet-clocks = Uhren
sheet-protocol = Der Messplan
sheet-to-bear-in-mind = Zu beachten
sheet-interval-means = Das Intervall nimmt den Tag als die Einheit, die sich wiederholt, denn Messungen eines Tages ähneln einander. Einen Fehler des Messgeräts kennt es nicht. Mit dem Grenzwert wird der genaue Durchschnitt verglichen, nie ein gerundeter.
sheet-carried-over = Auch weiß es nicht, ob Tage nachwirken: Gliche jeder Tag dem vor ihm mit einer angenommenen Korrelation von { $assumed }, so reichte das Intervall systolisch von { $systolic } und diastolisch von { $diastolic }. Eine Woche kann das nicht zeigen.
beside-nothing-noted = In diesen Tagen wurden keine Beschwerde und keine Änderung der Medikamente notiert.
beside-medicine = Medikamente: { $changes }. In diesen Tagen wurde keine Beschwerde notiert.
beside-symptoms = Beschwerden: { $symptoms }. In diesen Tagen wurde keine Änderung der Medikamente notiert.
beside-both = Beschwerden: { $symptoms }. Medikamente: { $changes }.
beside-clinic-none = Es wurde keine Messung in der Praxis notiert, auch nicht in den acht Wochen davor.
beside-clinic = In der Praxis: { $readings }.
beside-changed = geändert
beside-on = { $what } am { $day }
beside-more = und { $n } weitere
beside-before-none = Vor diesem Zeitraum gibt es keinen anderen.
beside-before = Der Zeitraum davor ({ $days }, nach { $protocol }): { $average } mmHg, aus { $n ->
    [one] { $n } Messung
   *[other] { $n } Messungen
}.
beside-before-too-few = Der Zeitraum davor ({ $days }, nach { $protocol }) hatte zu wenige Messungen für einen Durchschnitt.
beside-measured-with = Gemessen mit { $monitors }; { $arm ->
    [left] am linken Arm
    [right] am rechten Arm
   *[none] an einem Arm, den niemand angegeben hat
}, { $around ->
    [none] Umfang nicht angegeben.
   *[other] Umfang { $around } cm.
}
beside-upper-arm = Oberarm
beside-wrist = Handgelenk
beside-site-not-stated = wo es getragen wird, ist nicht angegeben
beside-validation = Validierung wie angegeben: { $listed }
beside-validation-none = keine Validierung angegeben
beside-cuff-not-stated = Manschettengröße nicht angegeben
beside-cuff = Manschette für { $arms }
sheet-week-of = Woche ab { $day }
column-mean = Mittelwert
column-systolic = Systolisch
column-diastolic = Diastolisch
column-on-days = An Tagen
table-every = Messungen { $every ->
    [day] jedes Tages
    [week] jeder Woche
   *[month] jedes Monats
}, die zählen, in mmHg: ihr Mittelwert, und von der niedrigsten bis zur höchsten. Keiner dieser Mittelwerte ist ein Durchschnitt nach dem Messplan.
sheet-not-listed = { $n ->
    [one] { $n } Messung
   *[other] { $n } Messungen
} aus so vielen Tagen sind nicht einzeln aufgeführt; wie viele markiert oder beiseitegelegt wurden, und warum, steht oben. So bekommt man alle: quietcuff report --readings.
column-morning = Morgens
column-evening = Abends
column-other = Zu anderen Zeiten
table-sessions = Messungen nach { $by ->
    [month] Monat
   *[day] Tag
} und Tageszeit: { $sessions } von { $expected } Messrunden gehalten. { $balance }
cell-none = keine
cell-counted = { $n } gezählt
cell-aside = { $n } beiseitegelegt
cell-both = { $counted } gezählt, { $aside } beiseitegelegt
cell-marked = markiert
cell-own-mean = in einem eigenen Mittelwert
cell-outside = außerhalb jeder Messrunde
cell-left-out = vom Messplan ausgelassen
cell-no-value = kein Wert
cell-monitor = Gerät
cell-person = Person
table-spread = Streuung in mmHg, der Variationskoeffizient in Prozent
column-averaged = Gemittelte Messungen
column-n = Anzahl
column-sd = Standardabweichung
column-cv = Variationskoeffizient
column-arv = Mittlere reale Variabilität
column-range = Spannweite
row-all-systolic = Alle, systolisch
row-all-diastolic = Alle, diastolisch
row-first-systolic = Erste jedes Morgens, systolisch
row-first-diastolic = Erste jedes Morgens, diastolisch
sheet-vary-say = Zur Information, kein Urteil: Es gibt keine Einigkeit, wie Schwankung zu messen ist, und keine Studie zeigt, dass es hilft, sie zu senken (ESC 2024, Abschnitt 5.6). Mittlere reale Variabilität: mittlerer absoluter Unterschied aufeinanderfolgender Messungen (Mena et al., J Hypertens 2005;23:505).
sheet-effect = Bekannte Wirkung in mmHg, gezeigt und nie abgezogen: systolisch { $systolic }, diastolisch { $diastolic } ({ $source }).
effect-none = keine gesicherte Wirkung
effect-higher = { $by } höher
effect-lower = { $by } niedriger
effect-between = { $lower } niedriger bis { $higher } höher
effect-about = etwa { $by } anders
effect-up-to = bis zu { $by } anders
effect-too-small = zu klein: { $by } höher
effect-too-large = zu groß: { $by } niedriger
basis-observed = beobachtet
basis-reported = angegeben
basis-on-record = hinterlegt
sheet-reasons-none = Keine wurde es.
table-reasons = Gründe, wie oft, und woher jeder bekannt ist
column-reason = Grund
column-known = Bekannt
column-says = Was er besagt
column-source = Quelle
column-part = Tageszeit
column-disposition = Verbleib
column-why = Warum
column-clock-off = Uhr falsch
part-morning = Morgen
part-evening = Abend
part-other = sonst
table-readings = { $n ->
    [one] { $n } Messung
   *[other] { $n } Messungen
} nach der Uhr des Haushalts, systolisch über diastolisch in mmHg, wo keine andere Einheit steht
clock-slow = { $by } nach
clock-fast = { $by } vor
clock-was = die Uhr ging { $one }
clock-up-to = von keiner bis { $other }
clock-between = die Uhr ging zwischen { $one } und { $other }
column-when = Wann
column-about = Betrifft
column-what = Was
table-noted = Was der Haushalt notiert hat; von Menschen gesagt, nicht gemessen
sheet-due = Fällig seit { $date }: { $task } ({ $because }).
because-dropped = am { $date } heruntergefallen
because-badly-stored = am { $date } schlecht gelagert
because-many-people = am { $date } haben es viele Personen an einem Tag benutzt
because-disagrees = am { $date } wich es von den Messungen der Praxis ab
because-scatters = seit { $date } schwanken seine Messungen stark
because-checked = zuletzt geprüft am { $date }
because-never-checked = nie geprüft, in Gebrauch seit { $date }
because-unknown = niemand hat angegeben, wann es gekauft oder geprüft wurde
because-years = { $years } Jahre in Gebrauch, gezählt ab { $since }
because-battery = seine Batterie war am { $date } bei { $level } %
fact-worn = Getragen
fact-on-upper-arm = am Oberarm
fact-on-wrist = am Handgelenk
fact-made = Hersteller und Modell
fact-serial = Seriennummer
fact-validation = Validierung
fact-validated = von einer Person angegeben: { $listed }
fact-not-validated = niemand hat eine angegeben
fact-cuff = Manschette
fact-arm = Arm der Person
fact-around = Umfang { $cm } cm
fact-in-use = In Gebrauch seit
fact-checked = Letzte Prüfung
fact-never-checked = keine notiert
fact-falls = Stürze seitdem
column-fact = Angabe
column-on-record = Hinterlegt
table-monitor = Messgerät { $monitor }, { $n ->
    [one] { $n } Messung
   *[other] { $n } Messungen
} in diesen Tagen
column-monitor = Messgerät
column-time-known = Zeit bekannt durch
column-correction = Berichtigung
table-clocks = Woher die Zeit jeder Messung bekannt ist, und was berichtigt wurde
time-by-clock = ihren Zeitstempel, verglichen mit der Uhr des Messgeräts
time-by-offset = ihren Zeitstempel, verschoben um die letzte bekannte Abweichung dieser Uhr
time-by-stamp = ihren Zeitstempel, wie er ist; Besseres weiß man von dieser Uhr nicht
time-by-receipt = den Augenblick ihres Empfangs
time-by-word = das Wort einer Person
time-by-nothing = nichts: sie ist unbekannt
column-rule = Regel
column-value = Wert
column-read = Gelesen
table-rules = Die Regeln von { $name }, und wie weit jede Quelle gelesen wurde
rule-days = Tage
rule-sessions = Messrunden am Tag
rule-readings = Messungen je Messrunde
rule-gap = Kürzeste Zeit dazwischen
rule-not-asked = nicht verlangt
rule-asked = verlangt
rule-asked-before-bed = verlangt; beurteilt, wo das Zubettgehen notiert war
rule-days-min = Wenigste Tage für einen Durchschnitt
rule-readings-min = Wenigste Messungen für einen Durchschnitt
rule-mornings-min = Morgen eines ausgewogenen Durchschnitts
rule-evenings-min = Abende eines ausgewogenen Durchschnitts
rule-at-least = mindestens { $n }
rule-settling = Wartezeit nach einer Änderung der Medikamente
rule-of-days = { $n } Tage
rule-first-day = Der erste Tag
rule-left-out = ausgelassen
rule-averaged = gemittelt
rule-threshold = Sein Grenzwert
rule-target = Zielwert unter Behandlung, { $name }
rule-below = unter { $limits }; hier nicht angewandt
tie-not-just-woken = nicht gerade aufgewacht
tie-within-hour-of-waking = innerhalb einer Stunde nach dem Aufwachen
tie-before-breakfast = vor dem Frühstück
tie-before-medicines = vor den Medikamenten
tie-before-dinner = vor dem Abendessen
tie-before-bed = vor dem Zubettgehen
read-in-full = ganz
read-in-a-summary = in einer Zusammenfassung
read-from-memory = aus dem Gedächtnis, unbestätigt
read-common-practice = übliche Praxis
read-own-choice = eigene Wahl
read-clinic = von der Praxis
mind-no-threshold = Kein Grenzwert in der Schwangerschaft, für Kinder, bei Vorhofflimmern oder an einem Dialysearm, es sei denn, eine Ärztin oder ein Arzt hat ihn eingerichtet.
mind-validation = Ob das Messgerät validiert ist und die Manschette passt, muss ein Mensch prüfen.
mind-nothing-corrected = Kein Wert wurde wegen eines Fehlers berichtigt. Was beiseitegelegt oder markiert wurde, ist aufgeführt und nie entfernt.
mind-reported = Gründe, die mit „angegeben“ beginnen, sind das Wort einer Person, nicht des Messgeräts.
plot-title = Blutdruck von { $who }, { $days }
plot-threshold = Grenzwert
plot-pulse = Puls
plot-pulse-a-minute = Puls/Minute
lane-morning = morgens
lane-evening = abends
lane-other = sonst
plot-half = { $slot ->
    [morning] Morgens
   *[evening] Abends
}: Mittelwert { $mean }, { $n ->
    [one] { $n } Messung
   *[other] { $n } Messungen
}
plot-half-no-mean = { $slot ->
    [morning] Morgens
   *[evening] Abends
}: kein Mittelwert, zu wenige Messungen
plot-says-counts = { $counted } gezählt, { $marked } markiert und { $aside } beiseitegelegt, { $days }.
plot-says-from-to = Gemittelte systolische Werte von { $low-systolic } bis { $high-systolic }, diastolische von { $low-diastolic } bis { $high-diastolic } mmHg.
plot-says-dashed = Gestrichelte Linien am Grenzwert von { $limits }.
plot-says-table = Die Tabelle aller Messungen hat jeden Wert.
plot-says-table-of-parts = Ihre Tabelle hat jeden Wert.
plot-says-parts = { $n ->
    [one] { $n } { $every ->
        [day] Tag
        [week] Woche
       *[month] Monat
    }
   *[other] { $n } { $every ->
        [day] Tage
        [week] Wochen
       *[month] Monate
    }
} mit Messungen, die zählen: { $days }.
plot-says-first-last = Der erste Mittelwert ist { $first }, der letzte { $last } mmHg.
plot-says-lowest-highest = Der niedrigste Mittelwert ist { $lowest }, der höchste { $highest } mmHg.
key-mean = Mittelwert { $every ->
    [day] eines Tages
    [week] einer Woche
   *[month] eines Monats
}, niedrigste bis höchste
key-few-days = an weniger als 3 Tagen
key-clinic = in der Praxis
key-medicine = Medikamente geändert

## The program's own protocols; names of guidelines stay as they are

protocol-seven-days-morning-and-evening = Sieben Tage, morgens und abends
protocol-two-weeks-morning-and-evening = Zwei Wochen, morgens und abends
protocol-one-day-a-week-for-twelve-weeks = Ein Tag in der Woche, zwölf Wochen lang
protocol-esh-2023-from-memory = ESH 2023 (aus dem Gedächtnis)
protocol-india-igh-iv-2019-not-confirmed = Indien, IGH-IV 2019 (nicht bestätigt)
protocol-ish-2020-from-memory = ISH 2020 (aus dem Gedächtnis)
protocol-jsh-2019-schedule-not-confirmed = JSH 2019 (Zeitplan nicht bestätigt)
protocol-jsh-2025-schedule-not-confirmed = JSH 2025 (Zeitplan nicht bestätigt)
protocol-elevated = erhöht
protocol-hypertension-range = Hypertoniebereich
protocol-stage-1-range = Bereich Stufe 1
protocol-stage-2-range = Bereich Stufe 2
protocol-on-treatment = unter Behandlung
protocol-on-treatment-all-adults = unter Behandlung, alle Erwachsenen
protocol-on-treatment-under-80-years = unter Behandlung, unter 80 Jahren
protocol-on-treatment-80-years-and-over = unter Behandlung, ab 80 Jahren
protocol-under-75-years-or-high-risk = unter 75 Jahren oder hohes Risiko
protocol-75-years-and-over = ab 75 Jahren
protocol-all-ages-if-tolerated = jedes Alter, wenn es vertragen wird

## What is worked out of readings, for the clinician

balance-parts = { $mornings ->
    [one] { $mornings } Morgen
   *[other] { $mornings } Morgen
} und { $evenings ->
    [one] { $evenings } Abend
   *[other] { $evenings } Abende
}, { $readings } gemittelt in jeder Messreihe.
balance-parts-uneven = Nicht ausgewogen: { $mornings ->
    [one] { $mornings } Morgen
   *[other] { $mornings } Morgen
} und { $evenings ->
    [one] { $evenings } Abend
   *[other] { $evenings } Abende
}, { $readings } gemittelt in jeder Messreihe; ein ausgewogener Durchschnitt hat mindestens { $mornings-min ->
    [one] { $mornings-min } Morgen
   *[other] { $mornings-min } Morgen
} und { $evenings-min ->
    [one] { $evenings-min } Abend
   *[other] { $evenings-min } Abende
}.
balance-mean-of-sittings = Das Mittel der Mittelwerte von { $sittings } Messreihen ist { $mean } mmHg: Einige Messreihen haben viel mehr Messungen als andere.
chance = Nach der Schwankung dieser Messungen liegt die Chance, dass der Durchschnitt dieser Person über viele solche Tage bei { $limits } oder darüber ist, bei { $chance }. Sie berücksichtigt die Streuung zwischen Tagen und zwischen Messungen, keinen Fehler des Messgeräts, und sie ist keine Diagnose.
chance-least = weniger als 1 von 100
chance-most = mehr als 99 von 100
chance-about = etwa { $percent } von 100
no-interval-too-wide = Die Tage sind zu wenige oder zu verschieden für ein Intervall, das etwas bedeuten würde.
no-interval-one-day = Ein Tag allein ergibt kein Intervall.
insufficient = { $readings } von { $readings-min } Messungen{ $dropped ->
    [yes] { " " }ohne den ersten Tag
   *[no] { "" }
}{ $at-most ->
    [0] { "" }
   *[other] { " " }(von einer Messreihe höchstens { $at-most })
}, { $days } von { $days-min }{ $consecutive ->
    [yes] { " " }aufeinanderfolgenden
   *[no] { "" }
} Tagen
labels-off-young = unter 18 oder gerade so: Grenzwerte für Erwachsene gelten nicht (Stergiou et al., J Hypertens 2007: häusliche Grenzen nach Körpergröße)
labels-off-pregnancy = Schwangerschaft oder die acht Wochen nach der Geburt: Häusliche Grenzwerte sind dafür nicht belegt (ESC 2024, Abschnitt 9.2)
labels-off-atrial-fibrillation = bekanntes Vorhofflimmern: Die meisten automatischen Messgeräte sind dafür nicht validiert (ESC 2024; NICE NG136)
labels-off-dialysis = Dialyse: Häusliche Grenzwerte gelten nur, wo eine Ärztin oder ein Arzt sie eingerichtet hat
target-stands = Der Zielwert der Praxis für diese Person ist unter { $limits } mmHg{ $from }{ $stands ->
    [below] : Der Durchschnitt liegt darunter.
    [not-below] : Der Durchschnitt liegt nicht darunter.
   *[none] ; es gibt keinen Durchschnitt zum Vergleichen.
}
target-from-both = { " " }(gewählt von { $by }; Quelle: { $source })
target-from-by = { " " }(gewählt von { $by })
target-from-source = { " " }(Quelle: { $source })
outside-counted = { $n ->
    [one] { $n } gezählte Messung steht außerhalb jeder Messrunde und ist nicht im Durchschnitt.
   *[other] { $n } gezählte Messungen stehen außerhalb jeder Messrunde und sind nicht im Durchschnitt.
}
outside-counted-with = { $n ->
    [one] { $n } gezählte Messung steht außerhalb jeder Messrunde und ist nicht im Durchschnitt; mit ihr
   *[other] { $n } gezählte Messungen stehen außerhalb jeder Messrunde und sind nicht im Durchschnitt; mit ihnen
} wäre er { $with } mmHg ({ $change }).
standing-up = { $day }: { $from ->
    [lying] im Liegen
    [night] nachts
    [standing] im Stehen
   *[seated] im Sitzen
} { $rest } mmHg{ $first }{ $third }.
standing-after-1 = ; nach 1 Minute im Stehen { $standing }, ein Abfall um { $by }{ $reaches ->
    [yes] , was 20 oder 10 erreicht
   *[no] { "" }
}
standing-after-3 = ; nach 3 Minuten im Stehen { $standing }, ein Abfall um { $by }{ $reaches ->
    [yes] , was 20 oder 10 erreicht
   *[no] { "" }
}
medicine-changed-on = In diesen Tagen wurden Medikamente geändert, am { $days }: Der Durchschnitt mischt vorher und nachher.
change-lacks = { $before ->
    [one] { $before } Tag
   *[other] { $before } Tage
} davor und { $after ->
    [one] { $after } Tag
   *[other] { $after } Tage
} ab { $settled }; je { $needed } sind nötig
pattern-irregular-pulse = Unregelmäßiger Puls
pattern-arms-differ = Unterschied der Arme
pattern-white-coat = Weißkittel
pattern-masked = Maskiert
pattern-white-coat-effect = Weißkitteleffekt
pattern-clinic-beside-home = Praxis neben zu Hause
pattern-medicine-settling = Wartezeit nach Medikamentenänderung
pattern-medicine-changed = Medikamente geändert
pattern-morning-rise = Morgendlicher Anstieg
pattern-morning-average = Durchschnitt der Morgen
pattern-called-white-coat = Weißkittel
pattern-called-masked = maskiert
pattern-say-irregular-pulse = Unregelmäßiger Puls, gemeldet vom Messgerät in { $sessions } Messrunden ({ $readings } Messungen). Warum, kann ein Messgerät nicht sagen; ein EKG kann es.
pattern-say-arms-differ = In { $n ->
    [one] { $n } Messreihe
   *[other] { $n } Messreihen
} mit beiden Armen ({ $needed } sind nötig) war der { $arm ->
    [right] rechte
   *[left] linke
} Arm systolisch um { $by } mmHg höher, mit einer Chance von 97,5 % um { $least } oder mehr. Die Leitlinie lässt von da an den Arm mit dem höheren Druck nehmen; in diesem Durchschnitt sind Messungen beider Arme.
pattern-say-morning-rise = An { $n ->
    [one] { $n } Tag
   *[other] { $n } Tagen
} mit beidem (mehr als { $needed } sind nötig) lag der systolische Mittelwert des Morgens im Schnitt um { $by } mmHg über dem des Abends, mit einer Chance von 97,5 % um { $least } oder mehr. Der Konsens nennt { $marker } ein Zeichen von Risiko, unabhängig vom Durchschnitt.
pattern-say-morning-average = Der Mittelwert aus { $n } Morgenmessungen an { $days ->
    [one] { $days } Tag
   *[other] { $days } Tagen
} ist { $mean }{ $interval }, bei 135/85 oder darüber; mehr als { $readings-needed } an mehr als { $days-needed } Tagen sind nötig. Der Konsens betrachtet den Mittelwert des Morgens für sich, was immer die Messungen der Praxis sind.
pattern-interval = { " " }(95 %: { $systolic } über { $diastolic })
pattern-by = { $by } (95-%-Intervall { $low } bis { $high })
pattern-say-medicine-settling = Medikamente geändert am { $change }, wie notiert. Die Tage bis { $settled } sind Wartezeit und werden mit nichts verglichen. Bisher gibt es { $before ->
    [one] { $before } Tag
   *[other] { $before } Tage
} davor und { $after ->
    [one] { $after } Tag
   *[other] { $after } Tage
} danach; je { $needed } sind nötig.
pattern-say-medicine-changed = Medikamente geändert am { $change }, wie notiert. Ab { $settled } ({ $after ->
    [one] { $after } Tag
   *[other] { $after } Tage
}) gegen davor ({ $before ->
    [one] { $before } Tag
   *[other] { $before } Tage
}): systolisch { $systolic }, diastolisch { $diastolic }. Die Tage dazwischen sind Wartezeit und ausgelassen. Dass eines nach dem anderen kam, heißt nicht, dass es daher kam.
pattern-beside = Messungen der Praxis innerhalb von { $within } Tagen ergeben { $clinic } (95 %: { $systolic } über { $diastolic }), aus { $visits ->
    [one] { $visits } Besuch
   *[other] { $visits } Besuchen
} von { $needed } nötigen, { $clinic-readings ->
    [one] { $clinic-readings } Messung
   *[other] { $clinic-readings } Messungen
}; Messungen zu Hause { $home }{ $interval }, aus { $home-readings ->
    [one] { $home-readings } Messung
   *[other] { $home-readings } Messungen
} an { $days ->
    [one] { $days } Tag
   *[other] { $days } Tagen
}
pattern-say-named = { $beside }: an der Grenze oder darüber nur { $shape ->
    [clinic] in der Praxis
   *[home] zu Hause
} ({ $there } dort, { $here } hier). Die Leitlinie nennt das Muster „{ $name }“; ob es eines ist, und was die Behandlung der Person damit zu tun hat, ist Sache der Ärztin oder des Arztes.
pattern-say-white-coat-effect = { $beside }: Die der Praxis sind um { $by } höher. NICE nennt einen Unterschied von mehr als 20/10, zur Zeit der Diagnose, Weißkitteleffekt.
pattern-say-unnamed = { $beside }: { $why ->
    [limits] Hier lässt sich kein Muster nennen
    [visits] zu wenige Besuche, um ein Muster zu nennen
   *[chance] kein Muster ist vom Zufall zu unterscheiden
}.
pattern-say-monitor-scatters = Etwa seit { $day } unterscheiden sich zwei Messungen einer Messrunde mehr als zuvor: im Schnitt um { $after } mmHg, zuvor um { $before }. Lassen Sie Messgerät und Manschette prüfen.
pattern-say-monitor-disagrees = Um den { $day } wichen die Messungen zu Hause um { $newest } mmHg von denen der Praxis ab, zuvor { $n }-mal im Schnitt um { $usual }. Ein geändertes Medikament kann das bewirken; das Messgerät auch. Lassen Sie es neben dem der Praxis prüfen.

## What to do next, on the terminal

next-not-begun = es wurden noch keine Tage begonnen
next-begins = die Tage beginnen am { $day }
next-ended = die Tage endeten am { $day }
next-begin-first = Für { $who } wurden noch keine Tage begonnen. { $command } beginnt sie; eine Messung, die trotzdem kommt, wird aufbewahrt.
next-again-now = Messen Sie jetzt noch einmal. { $say }
next-alert = { $say }
next-because-alert = { $what ->
    [symptoms] es wurden Beschwerden notiert
    [ask] es wurden Worte notiert, die nicht auf der Liste stehen
    [very-high] eine Messung ist sehr hoch
    [very-high-in-pregnancy] eine Messung ist sehr hoch
    [high-in-pregnancy] eine Messung ist hoch für die Schwangerschaft
    [very-low] eine Messung ist sehr niedrig
    [low] eine Messung ist niedrig
    [pulse] der Puls einer Messung ist sehr schnell oder sehr langsam
   *[irregular-pulse] das Messgerät hat einen unregelmäßigen Puls gemeldet
}{ $nobodys ->
    [yes] , und niemand hat gesagt, wessen sie ist
   *[no] { "" }
}, seit { $since } ({ $source })
next-all-in = { $n } Messungen da; die Messrunde ist vollständig
next-done = Fertig. Nehmen Sie die Manschette ab.
next-now = jetzt
next-at = um { $time }
next-moment = { $day } { $time }
next-set-aside = die letzte Messung wurde beiseitegelegt: { $reason }
next-set-aside-so = die letzte Messung wurde beiseitegelegt: ohne Grund
next-measure-again = Messen Sie { $when } noch einmal.
next-apart = die ersten beiden Messungen liegen mehr als { $limit } mmHg auseinander
next-in = { $n ->
    [1] eine Messung
    [2] zwei Messungen
    [3] drei Messungen
   *[other] { $n } Messungen
} da; { $wanted ->
    [2] zwei
    [3] drei
   *[other] { $wanted }
} gehören zu einer Messrunde
next-keep-on = Lassen Sie die Manschette an. Machen Sie { $when } die { $which ->
    [second] zweite
   *[third] dritte
} Messung.
next-take = Machen Sie jetzt die { $which ->
    [second] zweite
   *[third] dritte
} Messung.
next-nothing-due = jetzt ist keine Messrunde fällig
next-complete = die Messrunde am { $slot ->
    [morning] Morgen
   *[evening] Abend
} ist vollständig
next-due = die Messrunde am { $slot ->
    [morning] Morgen
   *[evening] Abend
} ist fällig
next-due-again = die Messrunde am { $slot ->
    [morning] Morgen
   *[evening] Abend
} ist fällig: die letzte endete mit { $counted } von { $wanted } Messungen
next-rest = Sitzen Sie 5 Minuten ruhig, Rücken, Arm und Füße gestützt, und machen Sie dann die erste Messung.
next-wait-noted = Warten Sie bis { $time }, 30 Minuten nach dem, was Sie notiert haben.
next-coming = Die nächste Messrunde: { $day } ab { $time } Uhr, { $slot ->
    [morning] am Morgen
   *[evening] am Abend
}.
next-beware = Achtung: { $what }
state-rest = ruhen
state-wait = warten
state-second = zweite
state-third = dritte
state-done = fertig
state-repeat = wiederholen
state-not-due = nicht fällig
state-seek-help = Hilfe holen

## Short names of the reasons

why-body-movement = Bewegung
why-cuff-too-loose = Manschette zu locker
why-improper-position = falsche Haltung
why-irregular-pulse = unregelmäßiger Puls
why-pulse-rate-above-range = Puls über dem Messbereich
why-pulse-rate-below-range = Puls unter dem Messbereich
why-no-value = kein Wert
why-impossible-value = unmöglicher Wert
why-unlikely-value = ungewöhnlicher Wert
why-too-soon = zu früh
why-time-unknown = Zeit unbekannt
why-clock-fault = Uhr falsch
why-person-unknown = Person unbekannt
why-discarded = verworfen
why-outside-window = außerhalb der Stunden
why-lone-reading = einzelne Messung
why-third-reading-missing = dritte Messung fehlt
why-wrist-monitor = Handgelenkgerät
why-cuff-size = Manschettengröße
why-not-validated = nicht validiert
why-reported-coffee = angegeben: Kaffee
why-reported-smoking = angegeben: Rauchen
why-reported-exercise = angegeben: Bewegung, Sport
why-reported-alcohol = angegeben: Alkohol
why-reported-meal = angegeben: Mahlzeit
why-reported-dinner = angegeben: Abendessen
why-reported-medicine = angegeben: Medikament
why-reported-just-woken = angegeben: gerade aufgewacht
why-reported-long-awake = angegeben: lange wach
why-reported-long-before-bed = angegeben: lange vor dem Zubettgehen
why-reported-no-rest = angegeben: keine Ruhe davor
why-reported-full-bladder = angegeben: volle Blase
why-reported-talked = angegeben: gesprochen
why-reported-over-clothing = angegeben: über Kleidung
why-reported-other-arm = angegeben: anderer Arm
why-reported-legs-crossed = angegeben: Beine überkreuzt
why-reported-back-unsupported = angegeben: Rücken nicht gestützt
why-reported-arm-unsupported = angegeben: Arm nicht gestützt
why-reported-arm-low = angegeben: Arm zu tief
why-reported-fist-clenched = angegeben: Faust geballt
why-reported-posture = angegeben: andere Haltung
why-reported-standing = angegeben: im Stehen
why-reported-lying = angegeben: im Liegen
why-reported-night = angegeben: nachts

## Notes

title-notes = Notizen
notes-say = Einmal tippen, und es ist für diesen Augenblick notiert.
notes-when = Wann
notes-now = Jetzt
notes-minutes = Vor { $n } Minuten
notes-hour = Vor einer Stunde
note-medicine = Medikament genommen
note-medicine-changed = Medikament geändert
note-coffee = Kaffee oder Tee
note-smoking = Geraucht
note-exercise = Bewegung
note-alcohol = Alkohol
note-meal = Gegessen
note-waking = Gerade aufgewacht
note-dinner = Abendessen
note-bed = Zu Bett gegangen
note-symptoms = Beschwerden
note-posture = Haltung
note-full-bladder = Volle Blase
note-no-rest = Vorher nicht ausgeruht
note-talked = Gesprochen
note-over-clothing = Manschette über Kleidung
notes-kind = Die nächsten Messungen dieser Reihe werden gemacht
note-standing = Im Stehen
note-lying = Im Liegen
note-night = Nachts im Bett
note-seated = Im Sitzen
kind-mean-standing = Im Stehen: { $mean } mmHg, { $n ->
    [one] { $n } Messung
   *[other] { $n } Messungen
}. Nicht im Durchschnitt.
kind-mean-lying = Im Liegen: { $mean } mmHg, { $n ->
    [one] { $n } Messung
   *[other] { $n } Messungen
}. Nicht im Durchschnitt.
kind-mean-night = Nachts: { $mean } mmHg, { $n ->
    [one] { $n } Messung
   *[other] { $n } Messungen
}. Nicht im Durchschnitt.
note-arm-left = Linker Arm
note-arm-right = Rechter Arm
note-cuff = Andere Manschette
note-clinic-reading = Messung in der Praxis
note-monitor-dropped = Messgerät heruntergefallen
note-batteries-changed = Neue Batterien
note-monitor-checked = Messgerät geprüft
notes-symptoms = Wie fühlen Sie sich
notes-day = Der Tag
notes-measuring = Zur Messung
notes-words = In eigenen Worten
note-it = Notieren
noted-lately = Zuletzt notiert
noted-none = Noch wurde nichts notiert.
take-back = Zurücknehmen
symptom-chest-pain = Brustschmerzen
symptom-breathless = Atemnot
symptom-face-drooping = das Gesicht hängt auf einer Seite
symptom-one-sided-weakness = plötzliche Schwäche oder Taubheit
symptom-speech = Mühe beim Sprechen
symptom-sight-loss = plötzlicher Verlust des Sehens
symptom-confused = verwirrt
symptom-fainted = ohnmächtig oder zusammengebrochen
symptom-seizure = ein Krampfanfall
symptom-cold-skin = kalte, feuchte, blasse Haut
symptom-severe-headache = starke Kopfschmerzen
symptom-severe-pain = starke Schmerzen im Rücken oder Bauch
symptom-rib-pain = starke Schmerzen gleich unter den Rippen
symptom-swelling = plötzliche Schwellung von Gesicht, Händen oder Füßen
symptom-vision = verschwommenes Sehen oder Flimmern
symptom-vomiting = Erbrechen
symptom-dizzy = schwindlig oder benommen
symptom-sick = Übelkeit
symptom-weak = Schwächegefühl
symptom-none = nichts davon
something-else = Etwas anderes
something-else-say = Ihre eigenen Worte werden aufgehoben. Sie allein ändern keinen Rat.

## Waiting for an answer

title-questions = Offene Fragen
questions-none = Keine Frage ist offen.
question-whose = Wer hat hier gemessen?
question-when = Wann war das?
doubt-time-unknown = { $monitor } wurde weitergegeben, bevor diese Messung ankam, und niemand weiß, wann gemessen wurde. Darum gehört sie niemandem, bis jemand sagt, wessen sie ist.
doubt-clock-unproven = { $monitor } wurde weniger als einen Tag vor oder nach dieser Messung weitergegeben, und ihre Zeit stammt von einer Uhr, die niemand abgelesen hat. Darum gehört sie niemandem, bis jemand sagt, wessen sie ist.
question-whose-say = Es wird niemand geraten. Bis Sie es sagen, kommt diese Messung in keinen Durchschnitt.
question-when-say = Der Uhr des Messgeräts war nicht zu trauen. Empfangen { $moment }.
answer-time = Tag und Uhrzeit
answer-save = Zu dieser Zeit
answer-discard = Nicht in den Durchschnitt nehmen
discarded-by-page = auf der Seite gesagt: nicht in den Durchschnitt
question-always = Alles, was { $monitor } sendet, gehört dieser Person, früher und später
question-always-user = Alles, was { $monitor } als Nutzer { $number } sendet, gehört dieser Person, früher und später
not-ours = Niemand von uns

## Monitors

title-monitors = Messgeräte
backup-title = Sicherung
backup-last = Die letzte gute Sicherung ist von { $moment }.
backup-never = Es wurde noch keine Sicherung gemacht.
backup-old = Sie ist alt: Was seither gemessen wurde, ist nur auf einer Festplatte.
backup-encrypted = Lesen kann sie nur, wer den privaten Schlüssel hat.
backup-plain = Sie ist unverschlüsselt: Wer die Datei hat, kann sie lesen.
monitors-none = Noch ist kein Messgerät eingetragen.
monitor-battery = Batterie
monitor-battery-level = { $level } %, gemeldet { $date }
monitor-battery-unknown = Nichts gemeldet.
monitor-heard = Zuletzt gehört
monitor-never = nie
monitor-measurements = Messungen
monitor-usual = Wer damit misst
held-since = seit { $moment }
held-until = bis { $moment }
monitor-user = Nummer { $number }: { $person }
monitor-due = Zu tun
monitor-due-none = Nichts.
monitor-due-on = { $task }, ab { $date }
monitor-address = Adresse
monitor-places = Gekoppelt bei
monitor-here = diesem Server
monitor-clock = Uhr
monitor-clock-seen = { $seconds } s { $where ->
    [behind] zurück
   *[ahead] voraus
}, gelesen: { $moment }
monitor-clock-unread = Noch nicht gelesen. Nicht jedes Messgerät lässt sie lesen.
monitor-clock-set = Seine Uhr stellen
monitor-clock-will = Seine Uhr wird gestellt, wenn es sich das nächste Mal verbindet.
monitor-forget = Dieses Messgerät vergessen
monitor-forget-say = Es wird nicht mehr empfangen, und seine Kopplung wird gelöscht. Seine Messungen bleiben.
monitor-forget-do = Vergessen
monitor-bond-kept = Es wird nicht mehr empfangen. Seine Kopplung konnte nicht gelöscht werden: { $why }
monitor-not-done = Das ging nicht: { $why }
monitor-nobody-listens = Das Programm, das empfängt, läuft auf dem Server nicht.
consent-title = Code eines Benutzers eingeben
consent-say = Dieses Messgerät trennt seine Benutzer durch Nummer und Code und gibt vielleicht keine Messungen heraus, bevor der Code hier bekannt ist. Wo es beides zeigt, steht in seiner Anleitung.
consent-none = Noch ist kein Code hinterlegt.
consent-kept = Für Benutzer { $number } ist ein Code hinterlegt. Er wird bei jedem Besuch genannt.
consent-waits = Das Messgerät wird bei seinem nächsten Besuch gebeten, einen neuen Benutzer anzulegen.
consent-accepted = Das Messgerät hat den letzten Code angenommen: { $moment }.
consent-wrong = Das Messgerät hat den letzten Code nicht angenommen: { $moment }. Bitte noch einmal eingeben.
consent-number = Nummer des Benutzers am Messgerät
consent-new = ein neuer Benutzer, mit selbst gewähltem Code
consent-code = Code, bis zu vier Ziffern
consent-save = Code hinterlegen
consent-forget = Code von Benutzer { $number } vergessen
consent-forget-new = Niemanden anlegen
task-check = Prüfen lassen
task-change-batteries = Batterien wechseln
task-plan-replacement = An ein neues Gerät denken
task-replace = Ersetzen
listeners-title = Andere Räume
listeners-none = Kein anderes Gerät gibt Messungen an diesen Server weiter.
listeners-say = Ein Empfänger ist ein kleines Gerät in der Nähe eines Messgeräts, in einem anderen Raum oder einem anderen Haus. Er hört dort das Messgerät und schickt die Messungen hierher. Er ruft diesen Server an; wo er steht, muss nichts geöffnet werden.
listeners-manage = Einen Empfänger einlassen oder abmelden
listeners-door-shut = Das Programm, das annimmt, was Empfänger weitergeben, läuft nicht; deshalb kann niemand eingelassen werden. Starten Sie es auf dem Server:
listener-waiting = Wartet dort
listener-waiting-n = { $n ->
    [0] nichts
    [one] 1 Rahmen
   *[other] { $n } Rahmen
}
listener-not-told = Nichts gemeldet.
listener-clock-right = Geht bekanntermaßen richtig.
listener-clock-unsure = Nicht bekannt, ob sie richtig geht. Sehen Sie nach, ob das Netz dort zu einem Zeitserver führt.
listener-clock-told = Von diesem Server über die Leitung gesagt, auf { $seconds } s genau. Was er hört, wird danach datiert.
listener-clock-apart = { $seconds } s { $where ->
    [behind] hinter
   *[ahead] vor
} der Uhr dieses Servers.
listener-apart = Er hat sich { $moment } gemeldet und wurde abgewiesen: Bei ihm läuft Version { $theirs }, auf diesem Server { $ours }. Nur benachbarte Versionen verstehen einander. Bringen Sie beide auf dieselbe Version. Er hebt auf, was er hört, und gibt es dann weiter.
listener-disk = Frei auf seinem Datenträger
listener-disk-low = Das ist wenig. Schaffen Sie dort Platz, oder geben Sie ihm eine größere Karte.
listener-version = Programmversion
listener-monitors = Messgeräte, die so ankommen
listener-monitors-none = Noch keine.
listener-pair = Dort ein Messgerät hinzufügen
listener-forget = { $monitor } dort vergessen
listener-forgotten = Der Empfänger hört es nicht mehr, und seine Kopplung dort ist gelöscht. Seine Messungen bleiben.
listener-door-shut = Das Programm, das annimmt, was Empfänger weitergeben, läuft nicht; deshalb kann keiner gefragt werden. Starten Sie es auf dem Server.
listener-closed = Er kam mit einer Sicherung zurück. Von ihm wird nichts angenommen, bis jemand sagt, dass er weitermachen darf.
listener-confirm = Er darf weitermachen
listener-withdraw = Diesen Empfänger abmelden
listener-withdraw-say = Von diesem Augenblick an wird nichts mehr von ihm angenommen. Was er geschickt hat, bleibt. Um wieder eingelassen zu werden, braucht er einen neuen Code.
listener-withdraw-do = Abmelden
listener-withdrawn = Abgemeldet { $moment }.
listener-connected = Er ist verbunden.
invite-title = Einen Empfänger einlassen
invite-label = Wo er steht, etwa Schlafzimmer
invite-at = Name oder Adresse, unter der er diesen Server erreicht
invite-do = Einen Code zeigen
invite-code = Der Code
invite-until = Er lässt einen Empfänger ein, einmal, { $minutes } Minuten lang: bis { $time }. Er wird nur dieses Mal gezeigt.
invite-scan = Der Code, für eine Kamera
invite-there = Auf dem Empfänger, mit dem Code dahinter:
pair-title = Ein Messgerät hinzufügen
pair-at = Beim Empfänger { $listener }. Das Messgerät muss in seiner Nähe sein.
pair-done-there = Das Messgerät ist dort gekoppelt. Seine Messungen kommen über diesen Empfänger.
pair-say = Stellen Sie das Messgerät auf Koppeln, dann suchen Sie es hier. Das dauert bis zu einer Minute.
pair-look = Messgeräte suchen
pair-looking = Es wird gesucht.
pair-found = Gefunden
pair-with = Mit { $name } koppeln
pair-for = Wer misst damit?
pair-called = Wie es heißen soll
pair-called-say = Buchstaben, Ziffern, - und _. Leer gelassen: der Name, den es hatte, sonst der nächste freie, etwa m2.
pair-passkey = Die sechs Ziffern, die das Messgerät zeigt
pair-passkey-show = Geben Sie das am Messgerät ein: { $passkey }
pair-send = Senden
pair-working = Es wird gekoppelt. Lassen Sie das Messgerät in der Nähe.
pair-done = Gekoppelt und eingetragen als { $monitor }.
pair-failed = Das Koppeln ging nicht: { $why }
pair-refused = Es wollte sich nicht koppeln und hat nach keinem Code gefragt. Stellen Sie es auf Koppeln und suchen Sie es noch einmal.
pair-without-say = Steht in seiner Anleitung, dass es sich nicht koppeln lässt, kann es ohne Koppeln hinzugefügt werden. Dann kann jeder in der Nähe hören, was es sendet, oder sich für dieses Gerät ausgeben.
pair-without = Ohne Koppeln hinzufügen
pair-stop = Abbrechen
pair-none = Es wurde keines gehört. Ist es auf Koppeln gestellt und in der Nähe?
pair-no-daemon = Das Programm, das empfängt, läuft nicht; darum lässt sich hier nichts koppeln. Starten Sie es auf dem Server.

## People

title-people = Personen
person-add = Eine Person hinzufügen
person-change = Ändern
person-save = Speichern
person-remove = Aus den Listen nehmen
person-remove-say = Die Messungen bleiben ihre. Von da an gehört ihnen keine Nummer eines Messgeräts, und ihr Schlüssel öffnet nichts mehr. Dieselbe Person kann wiederkommen.
person-remove-do = { $who } aus den Listen nehmen
person-removed = Aus den Listen genommen
person-again = { $who } kommt wieder
person-again-say = Nur, wenn es dieselbe Person ist. Was von ihr bekannt war, gilt wieder; Nummern und Schlüssel werden neu vergeben.
person-strict = Streng
person-strict-say = Was gemeldet wurde, etwa Kaffee oder Sprechen, legt eine Messung beiseite und markiert sie nicht nur
person-label = Wie Sie die Person nennen
person-from = von
person-to = bis
person-usual = Leer gelassen: { $from } bis { $to }.
person-systolic = Systolisch
person-diastolic = Diastolisch
person-threshold-say = Für den Durchschnitt zu Hause, wenn die Praxis einen genannt hat. Leer gelassen: der Wert der Leitlinie.
person-target-by = Wer es gewählt hat
person-target-source = Wo es geschrieben steht
person-target-say = Wenn die Praxis ein Ziel gewählt hat. Leer gelassen: keines. Wer es gewählt hat und wo es geschrieben steht, etwa in einem Brief der Praxis, steht im Bericht daneben.
person-conditions = Umstände
person-conditions-say = Für diese sind die Grenzwerte für Erwachsene nicht gemacht; kein Durchschnitt wird dann mit ihnen verglichen.
condition-pregnancy = Schwanger, oder in den acht Wochen nach der Geburt
condition-atrial-fibrillation = Vorhofflimmern ist bekannt
condition-dialysis = Dialyse
arm-either = nicht gewählt
person-wrong-label = Geben Sie einen Namen mit 1 bis { $most } Zeichen an.
person-wrong-same = Jemand heißt schon „{ $label }“. Fügen Sie hinzu, was die beiden unterscheidet.
person-wrong-invisible = In diesem Namen ist ein Zeichen, das niemand sieht. Geben Sie ihn neu ein.
person-wrong-alike = Dieser Name sieht aus wie „{ $label }“, und so heißt schon jemand. Fügen Sie hinzu, was die beiden unterscheidet.
person-wrong-born = Geben Sie ein Geburtsjahr von { $first } bis { $last } an.
person-wrong-born-on = Geben Sie den Tag der Geburt als 1951-03-24 an, und keinen, der noch kommt.
person-wrong-record-number = Eine Aktennummer hat höchstens { $most } sichtbare Zeichen in einer Zeile.
person-wrong-group = Eine Gruppe ist ein Wort mit höchstens { $most } sichtbaren Zeichen, etwa oben.
person-wrong-arm-cm = Ein Oberarm misst rundum { $least } bis { $most } Zentimeter.
person-wrong-number = Geben Sie Jahre und Zentimeter als Zahlen an, etwa 1951 oder 31,5.
person-wrong-window = Geben Sie eine erste und eine letzte Minute an, oder lassen Sie beides leer.
person-wrong-overlap = Morgen und Abend überschneiden sich um { $time } Uhr. Der eine muss enden, bevor der andere beginnt.
person-wrong-target = Geben Sie beide Zahlen eines Ziels in mmHg an: 40 bis 300, und eine kleinere von 20 bis 200.
person-wrong-target-words = Sagen Sie, wer das Ziel gewählt hat und wo es geschrieben steht.
person-wrong-target-line = Wer ein Ziel gewählt hat und wo es geschrieben steht, sind je 1 bis { $most } Zeichen, alle sichtbar.
person-wrong-birth = Geben Sie den Tag der Geburt an; er liegt nicht nach heute.
person-wrong-threshold = Geben Sie beide Zahlen eines Grenzwerts in mmHg an: 40 bis 300, und eine kleinere von 20 bis 200.
person-gave-birth = Geburt des Kindes am
person-gave-birth-until = { $born }: Die Grenzen der Schwangerschaft gelten bis { $ends }
person-gave-birth-say = Wenn das Kind geboren ist: Die Grenzen der Schwangerschaft gelten von da an acht Wochen, und der Haushalt erfährt, wenn sie enden. Wieder schwanger: noch einmal ankreuzen.
person-born = Geboren
person-born-ask = Geboren: ein Jahr, oder der Tag als 1951-03-24
person-record-number = Aktennummer
person-record-number-ask = Nummer der Akte in der Praxis, wenn sie auf dem Blatt stehen soll
person-group = Gruppe
person-group-ask = Gruppe in einem Wort, etwa eine Etage oder eine Station
person-arm = Arm
arm-left = links
arm-right = rechts
person-arm-cm = Umfang des Arms
person-morning = Morgen
person-evening = Abend
person-protocol = Messplan
person-target = Ziel der Praxis, unter dem der Durchschnitt liegen soll
person-threshold = Grenzwert der Praxis
person-period = Zeitraum
period-none = Keiner wurde begonnen.
period-running = { $from } bis { $to }
period-start = Heute { $days } Tage beginnen
period-start-for = Heute { $days } Tage für { $who } beginnen
calls-title = Wen man anruft
calls-say = Steht groß und zum Antippen da, wo etwas nicht warten darf.
calls-change = Ändern, wen man anruft
calls-number = Notruf an diesem Ort, etwa 112
calls-contact = Nummer von jemandem, der es wissen soll
calls-contact-name = Wer das ist
calls-back = Zurücknehmen, was hier gesagt wurde
calls-before = Was vorher gesagt wurde
calls-taken-back = zurückgenommen
calls-nobody = Noch niemand

## Keys and errors

title-key = Ihr Schlüssel
key-say = Diese Seite ist für den Haushalt. Geben Sie den Schlüssel ein, den Sie bekommen haben.
key-here = Am Gerät selbst gibt quietcuff keys link einen Link, der sie einmal öffnet.
key-label = Schlüssel
key-enter = Hineingehen
key-wrong = Dieser Schlüssel öffnet die Seite nicht: Er ist vertippt, wurde zurückgezogen, oder seine Zeit ist um.
link-wrong = Dieser Link öffnet die Seite nicht: Er gilt einmal und zehn Minuten lang. Machen Sie einen neuen.
key-slow = Zu viele Versuche. Warten Sie eine Minute.
card-title = Blutdruck: die Seite dieses Haushalts
card-code = Ein Code, den eine Kamera liest: { $address }
card-1 = Halten Sie die Kamera des Tablets auf den Code, und öffnen Sie, was sie zeigt.
card-2 = Lassen Sie das Tablet die Seite auf seinem Startbildschirm behalten.
card-3 = Stellen Sie es neben das Messgerät, höchstens zwei Meter vom Stuhl. Es sagt, was zu tun ist.
card-with-key = Wer diese Karte hat, hat den Schlüssel. Auf dem Server zieht quietcuff keys ihn zurück.
card-only-here = Diese Adresse führt nur zu diesem Rechner. Öffnen Sie die Seite auf einem anderen, und drucken Sie die Karte dort.
card-key-say = Eine Karte, die die Seite ohne Tippen öffnet, enthält einen Schlüssel. Auf dem Server macht dies eine:
card-print = Eine Karte für ein Tablet
error-title = Das ging nicht
error-not-found = Diese Seite gibt es nicht.
error-not-yours = Ihr Schlüssel öffnet das nicht.
error-forged = Das Formular ist alt oder kam nicht von dieser Seite. Gehen Sie zurück, laden Sie die Seite neu und versuchen Sie es noch einmal.
error-journal = Das Journal kann gerade nicht gelesen werden. Nichts ist verloren; versuchen Sie es in einer Minute noch einmal.
error-value = „{ $value }“ geht hier nicht.
error-future = Dieser Zeitpunkt ist noch nicht gekommen.
back = Zurück zum Anfang

## Reasons: why a reading is marked or set aside

reason-body-movement = Das Messgerät hat eine Bewegung gespürt. Halten Sie still, solange die Manschette arbeitet.
reason-cuff-too-loose = Das Messgerät fand die Manschette zu locker. Legen Sie sie so an, dass gerade zwei Finger darunter passen.
reason-improper-position = Das Messgerät fand die Lage falsch. Legen Sie die Manschette in Höhe des Herzens ab.
reason-irregular-pulse = Das Messgerät hat einen unregelmäßigen Puls gemeldet. Zeigen Sie es Ihrer Praxis, wenn es wieder vorkommt.
reason-pulse-rate-above-range = Der Puls war schneller als der Bereich, für den das Messgerät gemacht ist.
reason-pulse-rate-below-range = Der Puls war langsamer als der Bereich, für den das Messgerät gemacht ist.
reason-no-value = Das Messgerät konnte keinen Wert bestimmen.
reason-impossible-value = Diese Werte kann es nicht geben: systolisch nicht über diastolisch, systolisch außerhalb von 40 bis 300 oder diastolisch außerhalb von 20 bis 200 mmHg.
reason-unlikely-value = Diese Werte sind ungewöhnlich: systolisch außerhalb von 60 bis 230, diastolisch außerhalb von 40 bis 130, ein Abstand der beiden außerhalb von 15 bis 120 mmHg oder ein Puls außerhalb von 35 bis 180.
reason-too-soon = Weniger als eine Minute nach der Messung davor. Warten Sie zwischen Messungen eine Minute.
reason-time-unknown = Niemand weiß, wann gemessen wurde. Sagen Sie es, dann kann die Messung in den Durchschnitt kommen.
reason-clock-fault = Der Uhr des Messgeräts ist bei dieser Messung nicht zu trauen. Stellen Sie seine Uhr.
reason-person-unknown = Niemand weiß, wer gemessen hat. Sagen Sie es, dann kann die Messung in den Durchschnitt kommen.
reason-discarded = Jemand aus dem Haushalt wollte sie nicht im Durchschnitt haben.
reason-outside-window = Außerhalb der Stunden am Morgen und am Abend gemessen. Lag die ganze Messreihe dort, ist sie nicht im Durchschnitt.
reason-lone-reading = Die einzige Messung ihrer Messrunde, die zählt. Zwei gehören zu einer Messrunde.
reason-third-reading-missing = Eine dritte Messung war fällig, und es kam keine: Die ersten beiden liegen mehr als 10 mmHg auseinander, oder zu den Messrunden dieser Person gehören drei.
reason-wrist-monitor = Ein Gerät fürs Handgelenk. Halten Sie das Handgelenk in Höhe des Herzens; ein Gerät für den Oberarm ist besser.
reason-cuff-size = Der Umfang des Arms liegt außerhalb des Bereichs, der auf der Manschette steht. Nehmen Sie eine, die passt.
reason-not-validated = Niemand hat angegeben, dass dieses Modell geprüft (validiert) ist. Sehen Sie in der Liste Ihres Landes nach.
reason-reported-coffee = Kaffee weniger als 30 Minuten davor.
reason-reported-smoking = Geraucht weniger als 30 Minuten davor.
reason-reported-exercise = Bewegung weniger als 30 Minuten davor.
reason-reported-alcohol = Alkohol weniger als 30 Minuten davor.
reason-reported-meal = Gegessen weniger als 30 Minuten davor, oder Frühstück vor der Messung am Morgen.
reason-reported-dinner = Abendessen vor der Messung am Abend.
reason-reported-medicine = Medikament vor der Messung am Morgen.
reason-reported-just-woken = Weniger als 30 Minuten nach dem Aufwachen.
reason-reported-long-awake = Mehr als eine Stunde nach dem Aufwachen; dieser Messplan will die Messung am Morgen innerhalb dieser Stunde.
reason-reported-long-before-bed = Mehr als eine Stunde vor dem Zubettgehen; dieser Messplan will die Messung am Abend innerhalb dieser Stunde.
reason-reported-no-rest = Vor der Messung nicht ausgeruht. Sitzen Sie zuerst 5 Minuten ruhig.
reason-reported-full-bladder = Volle Blase.
reason-reported-talked = Während der Messung gesprochen.
reason-reported-over-clothing = Die Manschette war über Kleidung; das kann die Messung verändern.
reason-reported-other-arm = Nicht der gewählte Arm. Bleiben Sie bei einem Arm.
reason-reported-legs-crossed = Beine übereinandergeschlagen.
reason-reported-back-unsupported = Rücken nicht angelehnt.
reason-reported-arm-unsupported = Arm nicht aufgelegt.
reason-reported-arm-low = Manschette tiefer als das Herz.
reason-reported-fist-clenched = Faust geballt.
reason-reported-posture = Eine andere Haltung als sitzend mit Rücken, Arm und Füßen gestützt.
reason-reported-standing = Im Stehen gemessen. Das ist nicht im Durchschnitt; Messungen im Stehen haben einen eigenen Mittelwert.
reason-reported-lying = Im Liegen gemessen. Das ist nicht im Durchschnitt; Messungen im Liegen haben einen eigenen Mittelwert.
reason-reported-night = Nachts im Bett gemessen. Das ist nicht im Durchschnitt; Messungen bei Nacht haben einen eigenen Mittelwert.

## What is told to those who do not look: reminders and alerts

told-not-an-alarm = quietcuff ist kein Alarm: Ein ausgeschaltetes Programm oder ein gestörter Funk warnt niemanden. Es stellt keine Diagnose und rät zu keinem Medikament.
told-somebody = jemand aus dem Haushalt
told-withheld = hier nicht geschrieben
told-reading-measured = Gemessen { $moment }: { $systolic }/{ $diastolic } { $unit }.
told-reading-measured-withheld = Gemessen { $moment }.
told-reading-received = Empfangen { $moment }: { $systolic }/{ $diastolic } { $unit }.
told-reading-received-withheld = Empfangen { $moment }.
told-reading-is-unknown = Niemand weiß, wann gemessen wurde.
told-reading-is-ahead = Ihr Datum liegt in der Zukunft; darum weiß niemand, wann gemessen wurde.
choice-very-high-in-pregnancy = die acht Wochen nach der Geburt; bei der ersten solchen Messung jemanden anzurufen
choice-high-in-pregnancy = zuerst noch einmal zu messen; die 15 Minuten auf dieser Stufe
choice-very-high = deutlich niedriger heißt 10 mmHg niedriger: Zwei Messungen einer Reihe liegen in 19 von 20 Fällen näher beisammen (Standardabweichung innerhalb einer Reihe 3,7 und 3,4, Umfragedaten)
choice-very-low = 80, unter dem weniger als einer von tausend Erwachsenen liegt (Umfragedaten); die 5 Minuten
choice-low = zuerst noch einmal zu messen; die 5 Minuten; heute
choice-pulse = dass es auch außerhalb akuter Krankheit gilt
choice-of = Das sagt keine Quelle: { $choice }.
told-reading-is-nobodys = Noch hat niemand gesagt, wer gemessen hat.
told-subject-urgent = { $who }: eine Messung, die nicht warten darf
told-subject-symptoms = { $who }: es wurden Beschwerden notiert
told-subject-session-due = { $who }: die Messrunde am { $slot ->
    [morning] Morgen
   *[evening] Abend
} ist fällig
told-session-due = Sitzen Sie 5 Minuten ruhig, Rücken angelehnt, Arm und Füße aufgelegt, dann machen Sie die erste Messung. Zeit ist bis { $time } Uhr.
told-subject-half-done = { $who }: { $counted } von { $wanted } Messungen am { $slot ->
    [morning] Morgen
   *[evening] Abend
} zählen
told-half-done-go-on = Lassen Sie die Manschette am Arm und machen Sie jetzt die nächste Messung.
told-half-done-again = Fangen Sie die Messrunde noch einmal an: 5 Minuten ausruhen, dann messen. Zeit ist bis { $time } Uhr.
told-subject-missed = { $who }: keine vollständige Messrunde am { $slot ->
    [morning] Morgen
   *[evening] Abend
} ({ $day })
told-missed = { $counted ->
    [0] Keine Messung zählt.
    [one] Eine Messung zählt.
   *[other] { $counted } Messungen zählen.
} Eine Messung, die das Messgerät noch hat, kommt mit seiner nächsten Verbindung. Sonst machen Sie mit der nächsten Messrunde weiter; nichts muss nachgeholt werden.
told-subject-period-finished = { $who }: die Tage von { $from } bis { $to } sind vorbei
told-average = Durchschnitt { $average } mmHg, aus { $n } Messungen an { $days } Tagen; { $aside ->
    [0] keine wurde
    [one] eine weitere wurde
   *[other] { $aside } weitere wurden
} beiseitegelegt.
told-threshold = Der Wert zum Vergleich ist { $systolic }/{ $diastolic } mmHg ({ $source }). Was es für Sie bedeutet, kann nur eine Ärztin oder ein Arzt sagen.
told-no-threshold = Es wird mit keinem Wert verglichen. Was es für Sie bedeutet, kann nur eine Ärztin oder ein Arzt sagen.
told-average-withheld = Es gibt genug Messungen für einen Durchschnitt.
told-average-too-few = Es gibt nicht genug Messungen für einen Durchschnitt: { $sessions } von { $expected } Messrunden kamen. Es wird kein Durchschnitt gezeigt.
told-sheet = Der Bericht für die Praxis kann gemacht werden.
told-subject-battery-low = Messgerät { $monitor }: Batterie bei { $percent } %
told-battery-low = Wechseln Sie die Batterien: Schwache beenden eine Messung mittendrin.
told-subject-monitor-silent = Messgerät { $monitor } wurde seit { $moment } nicht gehört
told-monitor-silent = Wenn seither jemand gemessen hat, bringen Sie es in die Nähe des Servers und sehen Sie nach den Batterien. Wenn niemand gemessen hat, ist nichts zu tun.
told-subject-listener-silent = Der Empfänger { $listener } wurde seit { $moment } nicht gehört
told-listener-silent = Das ist das kleine Gerät, das { $monitors ->
    [0] die Messgeräte
    [one] ein Messgerät
   *[other] { $monitors } Messgeräte
} in seinem Raum hört und die Messungen weitergibt. Wenn Sie dort sind, sehen Sie nach, ob es eingesteckt ist und ob das Netz dort geht. Solange es Strom hat, hebt es auf, was es hört, und gibt es später weiter; nichts muss noch einmal gemessen werden.
told-subject-listener-apart = Vom Empfänger { $listener } kommen seit { $moment } keine Messungen an
told-listener-apart = Er meldet sich, aber bei ihm läuft Version { $theirs } und auf dem Server { $ours }: zu weit auseinander, um einander zu verstehen. Bringen Sie beide auf dieselbe Version. Er hebt auf, was er hört, und gibt es dann weiter; nichts muss noch einmal gemessen werden.
told-subject-door-shut = Seit { $moment } kommt nichts aus anderen Räumen an
told-door-shut = Auf dem Server läuft das Programm nicht, das annimmt, was die Empfänger weitergeben; quietcuff check sagt, was zu starten ist. Die Empfänger heben auf, was sie hören, und geben es später weiter.
told-subject-check-due = Messgerät { $monitor }: { $task }
told-check-due = Fällig seit { $date }.
told-subject-backup-due = Die letzte gute Sicherung ist von { $moment }
told-backup-due = Was seither gemessen wurde, ist nur auf einer Festplatte. Schließen Sie die Festplatte für Sicherungen an; auf dem Server macht quietcuff backup eine und sagt, was nicht stimmt.
told-subject-delivery-stuck = Messungen kommen nicht beim Server der Praxis an
told-delivery-stuck = Auf dem Server sagt quietcuff deliver list, was wartet und warum.
told-subject-after-birth = { $who }: die Grenzen der Schwangerschaft gelten nicht mehr
told-subject-daemon-deaf = Seit { $moment } kann keine Messung empfangen werden
told-daemon-deaf = Was bekannt ist: { $why }. Ein Messgerät mit Speicher behält seine Messungen und sendet sie später. Auf dem Server sieht quietcuff check nach, was gebraucht wird.
told-subject-lapsed = Nicht rechtzeitig gesagt
told-lapsed = Dieser Weg hat nicht funktioniert. Was von { $from } bis { $to } nicht gesagt werden konnte und jetzt nicht mehr lohnt: { $what }.
told-lapsed-matter = { $n } × { $kind ->
    [urgent] Messung, die nicht warten darf
    [session-due] Messrunde fällig
    [half-done] Messrunde halb gemacht
    [missed] Messrunde versäumt
    [period-finished] Ende eines Zeitraums
    [battery-low] schwache Batterie
    [monitor-silent] stilles Messgerät
    [listener-silent] stiller Empfänger
    [backup-due] alte Sicherung
    [after-birth] Ende der Grenzen der Schwangerschaft
    [delivery-stuck] nichts kommt beim Server der Praxis an
    [check-due] Messgerät zu prüfen
   *[daemon-deaf] kein Empfang
}
told-subject-test = Test: quietcuff erreicht Sie
told-test = Das ist ein Test. Nichts ist geschehen, und es ist nichts zu tun.
calendar-session = Blutdruck { $slot ->
    [morning] am Morgen
   *[evening] am Abend
} ({ $who })

## Whose it is, and who changed it

error-changed = Inzwischen hat jemand anders das geändert; darum wurde von Ihrem nichts aufgehoben. Gehen Sie zurück, laden Sie die Seite neu und sehen Sie, was jetzt gilt.
versions-title = Jemand anders hat das geändert, während Ihr Formular offen war
versions-say = Von Ihrem wurde noch nichts aufgehoben.
versions-begun = Als Sie anfingen
versions-now = Jetzt
versions-yours = Ihres
versions-below = Das Formular unten enthält, was jetzt gilt, mit Ihren Änderungen darüber. Sehen Sie es an, und speichern Sie es, wenn es stimmt.
number-title = Eine Nummer jemandem geben
number-which = Nummer am Messgerät
number-none = ohne Nummer
number-whose = Wem sie gehört
number-nobody = Niemandem
number-from = Ab wann
number-from-now = ab jetzt
number-from-moment = ab einem Zeitpunkt
number-from-beginning = von Anfang an
number-until = Bis wann, falls das schon feststeht
number-back = Zurückgegeben
number-save = Übergeben
number-confirm-title = Diese Nummer gehört jemandem
number-confirm-say = Noch wurde nichts geändert.
number-moves-nobody = { $count ->
    [0] Keine Messung von { $from } würde wechseln; was von da an kommt, gehörte niemandem.
    [one] Eine Messung von { $from } gehörte niemandem.
   *[other] { $count } Messungen von { $from } gehörten niemandem.
}
number-moves-doubted = { $count ->
    [one] Eine davon würde niemandem gehören: Sie kann aus der Zeit vor der Übergabe sein oder danach.
   *[other] { $count } davon würden niemandem gehören: Jede kann aus der Zeit vor der Übergabe sein oder danach.
}
number-confirm = Ja, übergeben
number-keep = Lassen, wie es ist
title-reading = Eine Messung
reading-time-unknown = unbekannt
reading-received = Empfangen
reading-nobodys = noch von niemandem
reading-assigned = jemand hat es gesagt
reading-discarded = Nicht im Durchschnitt, weil
reading-give = Wer hat hier gemessen?
reading-take-back-whose = Zurücknehmen, wer gemessen hat
reading-take-back-discard = Doch in den Durchschnitt nehmen
answers-title = Zuletzt beantwortet
number-moves = { $count ->
    [0] Keine Messung von { $from } würde wechseln; was von da an kommt, gehörte { $to }.
    [one] Eine Messung von { $from } gehörte dann { $to }.
   *[other] { $count } Messungen von { $from } gehörten dann { $to }.
}

## Whether anybody listens

page-as-of = Stand: { $moment }.
page-stale = Diese Seite zeigt den Stand { $moment }. Laden Sie sie neu, um zu sehen, was jetzt gilt.
listening-not-running = Es kommt keine Messung an: Das Programm, das empfängt, läuft nicht. Ein Messgerät mit Speicher behält seine Messungen. Auf dem Server sagt quietcuff check, was zu tun ist.
listening-no-answer = Es kommt keine Messung an: Das Programm, das empfängt, antwortet nicht. Starten Sie es auf dem Server neu.
listening-no-bluetooth = Es kommt keine Messung an: Das Bluetooth des Servers läuft nicht. Auf dem Server sagt quietcuff check, was zu tun ist.
listening-no-adapter = Es kommt keine Messung an: Der Server hat keinen Bluetooth-Adapter. Stecken Sie einen ein.
listening-off = Es kommt keine Messung an: Der Bluetooth-Adapter des Servers ist aus.
listening-radio = Es kommt keine Messung an: { $detail }.
listening-disk = Messungen können nicht aufgehoben werden: { $detail }.
listening-clock = Es ist nicht sicher, ob die Uhr des Servers stimmt. Zeiten auf dieser Seite können falsch sein, bis er die Zeit aus dem Netz hat.
listening-silent = Messgerät { $detail } ist länger still als gewohnt. Wenn seither jemand gemessen hat, bringen Sie es in die Nähe des Servers und sehen Sie nach den Batterien. Wenn niemand gemessen hat, ist nichts zu tun.
listening-listener-silent = Der Empfänger { $detail } wird nicht gehört, deshalb kommen Messungen aus seinem Raum nicht an. Sehen Sie nach, ob er eingesteckt ist und ob das Netz dort geht. Solange er Strom hat, hebt er auf, was er hört, und gibt es später weiter.
listening-listener-apart = Der Empfänger { $detail } meldet sich, aber sein Programm und das dieses Servers sind zu weit auseinander, um einander zu verstehen; deshalb kommen Messungen aus seinem Raum nicht an. Bringen Sie beide auf dieselbe Version. Er hebt auf, was er hört, und gibt es dann weiter.
listening-door-shut = Messungen aus anderen Räumen kommen nicht an: Das Programm auf dem Server, das sie annimmt, läuft nicht. Die Empfänger heben sie auf. Starten Sie es auf dem Server.
listening-delivery = Messungen kommen nicht beim Server der Praxis an: { $detail }. Sie sind hier aufgehoben.
listening-not-delivering = Messungen warten darauf, an den Server der Praxis zu gehen: Das Programm, das sie zustellt, läuft nicht. Sie sind hier aufgehoben. Starten Sie es auf dem Server.
after-birth-ended = Seit der Geburt sind acht Wochen vergangen. Ab { $date } gelten die allgemeinen Grenzen und nicht mehr die der Schwangerschaft: Eine Messung heißt erst bei höheren Zahlen als bisher sehr hoch. Wenn eine Praxis oder eine Hebamme den Blutdruck noch beobachtet, fragen Sie dort, welche Grenzen gelten.
listening-since = Seit { $moment }.
listening-since-unknown = Niemand weiß, seit wann.

## The terminal

shape-marked = markiert: gezählt, mit einem Hinweis
shape-set-aside = beiseitegelegt: aufgehoben und aufgeführt, nicht gemittelt
column-who = Wer
column-pressure = Blutdruck
column-id = Kennung
column-sessions = Tageszeit, und was zählt
times-unknown = Niemand weiß, wann sie gemessen wurden; wann sie ankamen
time-unknown-received = niemand weiß wann, empfangen { $moment }
session-counts = { $counted } von { $wanted } Messungen zählen
session-counts-taken = { $counted } von { $wanted } Messungen zählen, { $taken } genommen
session-open = es können noch welche kommen
session-short = zu wenige
session-apart = die ersten beiden weichen ab
session-irregular = unregelmäßiger Puls gemeldet
nothing-such = { $what ->
    [readings] es gibt keine solche Messung
   *[sessions] es gibt keine solche Messrunde
}; ohne { $options } würden alle aufgeführt
nothing-without-monitor = { $what ->
    [readings] es gibt noch keine Messung
   *[sessions] es gibt noch keine Messrunde
}; { $command } koppelt ein Messgerät, und was es misst, kommt von selbst
nothing-yet = { $what ->
    [readings] es gibt noch keine Messung
   *[sessions] es gibt noch keine Messrunde
}: Messen Sie, während { $listens } empfängt; ob es das tut, sagt { $says }
nothing-begun = es wurde kein Zeitraum begonnen; { $command } beginnt heute einen
nothing-changed = für { $who } wurde keine Änderung der Medikamente notiert; { $command } notiert eine
nothing-enrolled = kein Messgerät ist eingetragen; { $command } führt auf, was in Reichweite ist
nothing-added = noch ist niemand hinzugefügt; { $command } tut es
nothing-noted = nichts wurde notiert; { $command } notiert zum Beispiel einen Kaffee
summary-heading = { $who }, { $days }: { $title }
summary-no-average = Noch kein Durchschnitt: { $there }. Weniger würden zu wenig sagen.
summary-pulse = Puls in der Minute
summary-caution = Ein Durchschnitt ist keine Diagnose. Was er bedeutet, sagt Ihre Praxis.
summary-cautions = Beschwerden gehen vor, gleich was die Zahlen sagen. Beginnen, beenden oder ändern Sie wegen eines Durchschnitts kein Medikament. Ein Programm, das aus ist, oder ein gestörter Funk schlägt keinen Alarm.
summary-more = { $command } zeigt die Gründe, die Streuung und ein Bild.
summary-assign = { $command } sagt, von wem.
summary-widened = Gliche jeder Tag dem vor ihm mit einer Korrelation von { $correlation }, die hier niemand gemessen hat, so reichte das 95-%-Intervall systolisch von { $systolic } und diastolisch von { $diastolic }.
plot-wedges = Nach unten: systolisch. Nach oben: diastolisch.
plot-column = Jede Spalte ist { $days ->
    [1] ein Tag
    [7] eine Woche
    [28] vier Wochen
   *[other] { $days } Tage
}: ▼ Mittelwert systolisch, ▲ Mittelwert diastolisch.
plot-column-spread = │ von der niedrigsten bis zur höchsten, die zählt. Nicht gezeichnet: { $n } beiseitegelegt.
period-is-running = läuft
period-is-over = vorbei
earlier-say = Bei jedem früheren Durchschnitt: der letzte minus diesem, mit seinem 95-%-Intervall. Von zwanzig solchen Intervallen verfehlt eines die Wahrheit allein durch Zufall.
earlier-difference = Der letzte minus diesem: systolisch { $systolic }, diastolisch { $diastolic }.
changes-before = Davor
changes-after = Ab { $day }
changes-difference = Danach minus davor
changes-not-compared = Nicht verglichen
changes-same = die Tage unterscheiden sich nicht
changes-no-reading = keine Messung
changes-by = systolisch { $systolic }, diastolisch { $diastolic }
changes-say = Davor: bis zu { $days } Tage. Danach: ebenso viele, sobald die Wartezeit des Messplans vorbei ist; die Tage dazwischen bleiben weg, und keine Seite reicht über eine andere Änderung. Dahinter: danach minus davor, mit seinem 95-%-Intervall. Dass eines nach dem anderen kam, sagt nicht, dass es davon kam.
trace-no-reading = Aus diesem Rahmen wurde keine Messung.
trace-stamp = ihr Zeitstempel sagt { $stamp }
trace-no-stamp = kein Zeitstempel
trace-averaged = im Durchschnitt
trace-not-averaged = nicht im Durchschnitt
trace-frame = Rahmen { $number }, empfangen { $moment }, von { $monitor }, Verbindung { $connection }, Merkmal { $characteristic }
trace-frame-overheard = Rahmen { $number }, vom zweiten Ohr mitgehört { $moment }, von { $monitor }, Verbindung { $connection }, Merkmal { $characteristic }
trace-heard-by = gehört von Zuhörer { $listener } { $label }
trace-time-told = empfangen { $moment } nach der Uhr dieses Servers, auf { $seconds } s genau: Die Maschine, die es hörte, hatte keine eigene Zeit
trace-sum = Insgesamt { $sum } mmHg, geteilt durch { $n } Messungen: { $mean }
explain-counted = Gezählt. Sie geht in den Durchschnitt, und nichts spricht dagegen.
explain-apart = Markiert. Sie steht für sich: Sie geht in keinen Durchschnitt eines Messplans, sondern in einen Mittelwert ihrer Art.
explain-marked = Markiert. Sie geht in den Durchschnitt ihrer Messrunde, mit einem Hinweis.
explain-set-aside = Beiseitegelegt. Sie wird aufgehoben und aufgeführt und geht nicht in den Durchschnitt.
explain-own-words = Eigene Worte: { $text }
explain-strict = Diese Fehler allein würden sie nur markieren. Beiseitegelegt ist sie, weil die Messungen dieser Person streng beurteilt werden.
explain-ignored = Übergangen: Das Messgerät meldete { $flag } und sagt von sich, dass es darauf nicht achtet.
explain-mean = Weggelassen: Der mittlere arterielle Druck von { $mean } liegt nicht zwischen den beiden anderen. Sie gelten ohne ihn.
explain-minute = Ihr Zeitstempel hat nur ganze Minuten; er kann nicht belegen, dass sie zu bald nach einer anderen kam.
status-adapter = Adapter
status-radio = Funk
status-journal = Journal
status-ear = Zweites Ohr
status-listening = empfängt
status-way = Messgeräte werden { $way ->
    [direct] unmittelbar
   *[bluez] über BlueZ
} verbunden: { $why }
status-linked = , { $way ->
    [direct] unmittelbar
   *[bluez] über BlueZ
} verbunden
status-frames = { $n ->
    [one] { $n } Rahmen
   *[other] { $n } Rahmen
} seit dem Start
status-frames-last = { $n ->
    [one] { $n } Rahmen
   *[other] { $n } Rahmen
} seit dem Start, der letzte { $moment }
status-heard = { $address }, zuletzt gehört { $moment }
status-not-heard = { $address }, seit dem Start nicht gehört
status-listener = Empfänger „{ $label }“, zuletzt gehört { $moment }
status-listener-never = Empfänger „{ $label }“, noch nie gehört
status-listener-waits = { $n ->
    [one] 1 Rahmen wartete dort
   *[other] { $n } Rahmen warteten dort
}
status-listener-clock = es ist nicht bekannt, ob seine Uhr richtig geht
status-listener-clock-told = diese Maschine sagt ihm die Zeit, auf { $seconds } s genau
status-listener-clock-apart = seine Uhr geht { $seconds } s { $where ->
    [behind] hinter
   *[ahead] vor
} der dieses Geräts
status-listener-apart = er hat sich { $moment } gemeldet und wurde abgewiesen: bei ihm läuft Version { $theirs }, hier { $ours }; bringen Sie beide auf dieselbe Version, er hebt auf, was er hört
status-listener-version = Version { $version }
status-listener-disk = { $mb } MB frei auf seinem Datenträger
status-listener-battery = Batterie von { $monitor }: { $level } %
status-door-shut = das Programm hier, das annimmt, was er weitergibt, läuft nicht
status-not-direct = nicht unmittelbar: { $why }
status-users = { $n ->
    [one] Messungen seines Benutzers { $users }
   *[other] Messungen seiner Benutzer { $users }
}, mit Zustimmung
ear-alone = { $n ->
    [one] eine Messung hörte nur dieses
   *[other] { $n } Messungen hörte nur dieses
}
ear-alone-unknown = was nur dieses hörte, sagt das Journal nicht
ear-off = aus
ear-listening = { $n ->
    [one] hört, { $n } Messung
   *[other] hört, { $n } Messungen
} seit seinem Start
ear-left = { $n ->
    [one] { $n } Meldung war keine Messung oder kam von einer unbekannten Stelle
   *[other] { $n } Meldungen waren keine Messung oder kamen von einer unbekannten Stelle
}
people-user = Benutzer { $number } von { $monitor }
people-usual = gewöhnlich an { $monitor }
deliver-clinic = Praxis
deliver-resources = Ressourcen
deliver-messages = Nachrichten
deliver-counts = { $sent } gesendet, { $waiting } warten, { $refused } abgelehnt
deliver-contact = Letzter Kontakt
deliver-problem = Störung
deliver-not-before = nicht wieder vor { $moment }
deliver-refused = Abgelehnt
deliver-retry = { $one } oder { $all } lässt sie noch einmal senden
deliver-held = Zurückgehalten
deliver-held-of = { $n } von { $who }: { $why }
release-title = Für die Praxis freigegeben
release-all = alles, was gemessen wird
release-from = was ab { $from } gemessen wird
release-until = was bis { $until } gemessen wird
release-days = was von { $from } bis { $until } gemessen wird
release-said = { $what }; sagt { $who }, { $moment }
release-said-unnamed = { $what }; gesagt { $moment }
release-withdrawn = zurückgenommen von { $who }, { $moment }
release-withdrawn-unnamed = zurückgenommen { $moment }
release-unstated = niemand hat es gesagt; es geht dorthin, weil die Konfiguration die Person nennt
release-missing = niemand hat es gesagt, und bis dahin geht nichts dorthin
release-outside = nicht von den freigegebenen Tagen: { $what }
release-not-chosen = die Konfiguration nennt die Person nicht, also geht nichts dorthin
release-waits = { $n ->
    [one] 1 Messung wartet, weil keine Freigabe sie einschließt
   *[other] { $n } Messungen warten, weil keine Freigabe sie einschließt
}
release-say = Messungen dieser Tage gehen an { $clinic }, mit den Mittelwerten der Zeiträume, die ganz darin liegen. Ist die Freigabe zurückgenommen, geht nichts Neues und nichts Berichtigtes mehr dorthin. Was schon dort ist, bleibt dort; was falsch war, wird dort weiterhin zurückgenommen.
release-give = Diese Tage freigeben
release-take-back = Freigabe zurücknehmen
release-first = Erster Tag; leer: von Anfang an
release-last = Letzter Tag; leer: ohne Ende
opening-title = Akte in der Praxis
opening-never = Nicht geöffnet: Es geht nichts dorthin.
opening-since = Geöffnet seit { $moment }
opening-taken = Die Praxis nahm den Schlüssel dieses Haushalts zuletzt an: { $moment }. Zieht sie ihn zurück, zeigt sich das, wenn das nächste Mal etwas übermittelt wird.
opening-refused = Dorthin geht nichts: Seit { $moment } nimmt die Praxis den Schlüssel dieses Haushalts nicht mehr an. Er ist abgelaufen oder wurde dort zurückgezogen. War das nicht gewollt, öffnen Sie die Akte neu.
opening-closed = Geschlossen { $moment }
opening-unreadable = Wie es darum steht, lässt sich nicht lesen. Das Protokoll der Seite sagt, warum.
opening-as = Heißt dort
opening-may = Was die Praxis erlaubt hat
opening-say = Bei { $clinic } melden Sie sich auf der eigenen Seite der Praxis an und sagen dort, dass dieser Haushalt Messungen in diese eine Akte schreiben darf. Das Passwort der Praxis geben Sie nur dort ein, sonst nirgends.
opening-open = Akte öffnen
opening-again = Neu öffnen
opening-close = Akte schließen
opening-close-say = Ist sie geschlossen, geht nichts mehr dorthin, und die Praxis wird gebeten, ihren Schlüssel zurückzunehmen. Was schon dort ist, bleibt dort.
opening-came = Die Antwort der Praxis ist da.
opening-on = Weiter
opening-asking = Der Server der Praxis wird gefragt.
opening-go = Zur Seite der Praxis
opening-back-say = Danach führt die Praxis Sie hierher zurück.
opening-not-back = Sie hat nicht hierher zurückgeführt
opening-paste-say = Am Ende steht der Browser bei einer Adresse, die mit { $address } beginnt, auch wenn er keine Seite zeigt. Kopieren Sie die ganze Adresse und setzen Sie sie hier ein.
opening-paste = Die ganze Adresse
opening-take = Übernehmen
opening-missed = Das ist nicht die Antwort auf das, was hier begonnen wurde. Nehmen Sie die ganze Adresse, bei der der Browser geendet hat, oder öffnen Sie die Akte neu.
opening-taking = Die Antwort der Praxis wird übernommen.
opening-done = Die Akte ist geöffnet. Was für die Praxis freigegeben ist, geht dorthin.
opening-closing = Die Akte wird geschlossen.
opening-closed-there = Die Akte ist geschlossen: Es geht nichts mehr dorthin, und der Schlüssel dazu ist zurückgenommen. Was schon dort ist, bleibt dort.
opening-closed-here = Es geht nichts mehr dorthin, und der Schlüssel ist hier vergessen. Sagen Sie der Praxis, dass sie schließen soll, was sie geöffnet hat: { $why }
opening-elsewhere = Jemand öffnet oder schließt diese Akte gerade in einem anderen Browser.
opening-no-role = Das Programm, das an die Praxis liefert, läuft nicht; darum lässt sich hier keine Akte öffnen oder schließen. Starten Sie es auf dem Server.
opening-declined = Die Akte wurde nicht geöffnet: Sie oder die Praxis haben auf der Seite der Praxis nein gesagt.
opening-failed = { $fault ->
    [refused] Die Praxis lässt diesen Haushalt nicht ein: { $why }
    [server] Der Server der Praxis antwortet nicht, wie er sollte: { $why }
    [lacking] Dem Server der Praxis fehlt, was dafür nötig ist: { $why }
   *[here] Hier ist zuerst etwas in Ordnung zu bringen: { $why }
}
remind-kind = { $kind ->
    [urgent] Messung, die nicht warten darf
    [session-due] Messrunde fällig
    [half-done] Messrunde halb gemacht
    [missed] Messrunde versäumt
    [period-finished] Ende eines Zeitraums
    [battery-low] schwache Batterie
    [monitor-silent] stilles Messgerät
    [listener-silent] stiller Empfänger
    [backup-due] alte Sicherung
    [after-birth] Ende der Grenzen der Schwangerschaft
    [delivery-stuck] nichts kommt beim Server der Praxis an
    [check-due] Messgerät zu prüfen
    [daemon-deaf] kein Empfang
   *[other] etwas anderes
}
remind-told = { $what }, über „{ $route }“
remind-state = { $state ->
    [due] fällig
    [sent] gesagt
    [pending] wartet
    [being-sent] wird gesagt
    [lapsed] nicht rechtzeitig gesagt
   *[dropped] nicht mehr zu sagen
}
nothing-due = nichts ist fällig, und in den letzten Tagen wurde niemandem etwas gesagt

## What home automation shows, each as the name of one value

entity-collector = Empfängt Messungen
entity-monitor = Messgerät { $monitor }
entity-systolic = Systolisch
entity-diastolic = Diastolisch
entity-pulse = Puls
entity-measured-at = Gemessen um
entity-average-systolic = Durchschnitt, systolisch
entity-average-diastolic = Durchschnitt, diastolisch
entity-session = Messzeit
entity-urgent = Duldet keinen Aufschub
entity-battery = Batterie
entity-last-heard = Zuletzt gehört
