# Everything that the household reads on the page, in the terminal and in messages, in English, the original. The other
# catalogues have the same messages with the same variables; a test holds them to that. Times come as 07:05, dates
# through `date`.

## Dates and numbers

month-1 = January
month-2 = February
month-3 = March
month-4 = April
month-5 = May
month-6 = June
month-7 = July
month-8 = August
month-9 = September
month-10 = October
month-11 = November
month-12 = December
weekday-1 = Monday
weekday-2 = Tuesday
weekday-3 = Wednesday
weekday-4 = Thursday
weekday-5 = Friday
weekday-6 = Saturday
weekday-7 = Sunday
weekday-short-1 = Mon
weekday-short-2 = Tue
weekday-short-3 = Wed
weekday-short-4 = Thu
weekday-short-5 = Fri
weekday-short-6 = Sat
weekday-short-7 = Sun
month-short-1 = Jan
month-short-2 = Feb
month-short-3 = Mar
month-short-4 = Apr
month-short-5 = May
month-short-6 = Jun
month-short-7 = Jul
month-short-8 = Aug
month-short-9 = Sep
month-short-10 = Oct
month-short-11 = Nov
month-short-12 = Dec
date = { $weekday } { $day } { $month }
date-with-year = { $day } { $month } { $year }
full-date = { $weekday } { $date }
month-of-year = { $month } { $year }
today = today
tomorrow = tomorrow
yesterday = yesterday
on-day = on { $date }
moment = { $date }, { $time }
range-of-days = { $from } to { $to }
slot-morning = morning
slot-evening = evening
slot-other = other time
decimal-mark = .

## The frame of every page

app = quietcuff
skip = Skip to the content
pages = Pages
nav-now = Now
nav-household = Everybody today
nav-week = These days
nav-earlier = Earlier
nav-sheet = For the clinic
nav-notes = Notes
nav-questions = Waiting for an answer
nav-monitors = Monitors
nav-people = People
nav-set-up = Set up once
whose-page = Whose
find-label = Find by name
find-do = Find
find-shown = { $from }–{ $to } of { $n }
find-none = Nobody and nothing is called that.
find-parts = Parts
find-more = And { $n } more
find-whose = Somebody else
everybody = Everybody
language-name = English
unreviewed = Nobody who grew up with this language has read these words yet. Where they are not clear, the English ones hold.
leave = Leave this page
not-an-alarm = This page is not an alarm: a program that is off, or a radio that fails, warns nobody. Symptoms come first, whatever the numbers say. It does not diagnose, and it advises on no medicine.
read-only = You may look at everything here and change nothing.
nobody-yet = Nobody has been added yet. Add a person and a monitor, in whichever order.
connection-lost = No word from the server since { $time }. What you see may be old.
no-script = This page renews itself every few seconds.
aloud = Chime and voice
aloud-asleep = Touch the page once: until then this browser lets nothing be heard.
aloud-no-voice = This browser has no voice of its own for { $language }: it only chimes.
awake = Keep the screen on while somebody measures

## Now: what to do next

title-now = Now
step-rest = Sit down and rest
step-rest-say = Five minutes, quietly. Then press the monitor’s button.
step-rest-wait = Wait until { $time }
step-rest-wait-say = That is half an hour after what you noted. Then rest for five minutes and measure.
step-rest-slot = The { $slot } session is due.
step-rest-again = The last one ended with { $counted } of { $wanted } readings. Begin it again, or leave it for today.
step-resting = Rest
step-resting-say = Sit still, breathe, say nothing. The first reading comes after this.
step-rested = Press the button
step-rested-say = Five minutes are over. Take the first reading now.
step-measuring = Keep still
step-measuring-say = Do not talk. Let the arm lie.
cuff-rising = Cuff pressure, rising
cuff-falling = Cuff pressure, falling
cuff-pressure = Cuff pressure
step-wait = Wait
step-wait-second = Keep the cuff on. The second reading comes next.
step-wait-third = Keep the cuff on. A third reading comes next: the first two lie more than { $limit } mmHg apart.
step-wait-more = Keep the cuff on. Reading { $number } of { $wanted } comes next.
step-second = Press the button
step-second-say = Take the second reading now.
step-third = Press the button
step-third-say = Take a third reading now: the first two lie more than { $limit } mmHg apart.
step-more-say = Take reading { $number } of { $wanted } now.
step-repeat = Measure again
step-repeat-wait = Wait, then measure again
step-repeat-say = The last reading was set aside and is not averaged.
step-done = Done
step-done-say = Take the cuff off.
step-done-between = The { $slot } session is complete.
step-not-due = Nothing to do now
step-not-due-say = A reading that comes all the same is kept.
step-over = These days are over
days-begin = The days begin { $day }.
coming = Next session: { $slot }, { $day } from { $time }.
coming-none = No further session is planned.
help-again = Measure again
help-wait = Sit quietly
help-today = Contact your clinic today
help-now = Contact your clinic now
help-emergency = Call your emergency number now
help-low = Sit or lie down
help-ask = Is it one of these?
help-tell = Something for your clinic
then-otherwise = After that: { $step }
start-rest = Start five minutes of rest
stop-rest = Stop the rest
last-reading = Last reading
readings-so-far = Readings of this session
pulse = pulse { $pulse }
set-aside = set aside
marked = counted, with something to know
counted = counted
good = What was good
good-two = { $n } readings a minute or more apart
good-alone = All of them count
good-nothing-noted = Nothing in them to mend
change = For next time
change-nothing = Nothing. Do it the same way again.
feel-unwell = I feel unwell
call = Call { $who }
turn-next = Next: { $who }
since-moment = Since { $moment }.
answer-title = What was done?
answer-say = This stands until somebody says what was done, or until later readings settle it.
answer-called-emergency = The emergency number was called
answer-contacted-clinic = The clinic or the out-of-hours service was contacted
answer-looked-after = It was looked after; nobody was called
undelivered = A message that must not wait could not be delivered by “{ $route }” since { $moment }. Tell them yourself.
nobodys-say = Say whose it was
unwell-title = What to do now
unwell-kept = Noted at { $time }.
unwell-not-kept = It was NOT noted, so nobody else is told: { $why }
unwell-why-form = the form did not come from this page, or the page was too old.
unwell-why-key = your key does not open this.
unwell-why-journal = the journal cannot be written at this moment.
unwell-why-person = nobody of that name is known.
unwell-again = Note it again
unwell-next = To the next step
technique = How to sit
technique-1 = Bladder empty
technique-2 = Back supported
technique-3 = Feet flat on the floor
technique-4 = Legs uncrossed
technique-5 = Arm on the table, at heart height
technique-6 = Cuff on the bare arm
technique-7 = No talking
posture-1 = Drawing: a toilet
posture-2 = Drawing: somebody sits at a table, the back against the chair
posture-3 = Drawing: the soles lie flat on the floor
posture-4 = Drawing: two legs side by side
posture-5 = Drawing: the forearm lies on the table, the cuff as high as the heart
posture-6 = Drawing: a cuff around a bare upper arm, the sleeve pushed up
posture-7 = Drawing: a speech bubble, struck out
elapsed = Time that has passed
cuff-column = A column in a tube: { $pressure } { $unit }, on a scale from 0 to { $most }
source-of = Source: { $source }

## What must not wait; the limits and the words are those of the guidelines named with them

alert-very-high-measure-again = A reading is very high. Sit quietly for 5 minutes and measure again. If it is still { $systolic } or above, or { $diastolic } or above for the lower number, contact your clinic or out-of-hours service today.
alert-very-high-contact-today = It was measured again and is still very high. Contact your clinic or out-of-hours service today.
alert-very-high-emergency = A reading is very high, and symptoms were noted. Call your emergency number now. Do not wait to see if your pressure comes down.
alert-very-high-tell-clinic = A very high reading was followed by readings that are clearly below. All of them stand on the sheet for your clinic.
alert-very-high-in-pregnancy-contact-now = A reading is very high. Contact your maternity unit or your clinic now, and measure again after 15 minutes. If it is still { $systolic } or above, or { $diastolic } or above for the lower number, it is an emergency.
alert-very-high-in-pregnancy-emergency = This is very high, and it lasts or symptoms were noted. Call your emergency number now. Do not wait to see if your pressure comes down.
alert-very-high-in-pregnancy-tell-clinic = A very high reading was followed by readings that are clearly below. All of them stand on the sheet for your clinic.
alert-high-in-pregnancy-measure-again = A reading is high for pregnancy and the weeks after birth. Sit quietly and measure again after 15 minutes. If it is still { $systolic } or above, or { $diastolic } or above for the lower number, contact your maternity unit or your clinic today.
alert-high-in-pregnancy-contact-today = It was measured again and is still high for pregnancy and the weeks after birth. Contact your maternity unit or your clinic today.
alert-high-in-pregnancy-contact-now = This is high for pregnancy and the weeks after birth, and symptoms were noted. Contact your maternity unit or your clinic now.
alert-very-low-measure-again = A reading is very low. Sit or lie down, and measure again after 5 minutes. If it is still below { $systolic }, or if you feel faint, dizzy or unwell, contact your clinic or out-of-hours service now.
alert-very-low-contact-now = This is very low, and it was measured again or symptoms were noted. Sit or lie down, and contact your clinic or out-of-hours service now.
alert-low-measure-again = A reading is low. Sit or lie down, and measure again after 5 minutes. If you feel faint, dizzy or unwell, contact your clinic or out-of-hours service today.
alert-low-tell-clinic = It was measured again and is still low. If you feel well, tell your clinic at the next visit. If you feel faint, dizzy or unwell, sit or lie down and note it here.
alert-low-contact-today = This is low, and symptoms were noted. Sit or lie down, and contact your clinic or out-of-hours service today.
alert-pulse-contact-now = The pulse of this reading is very { $speed ->
    [slow] slow
   *[fast] fast
}: { $pulse }. Contact your clinic or out-of-hours service now. If you faint, call your emergency number.
alert-pulse-note = The pulse of this reading is { $speed ->
    [slow] slow
   *[fast] fast
}: { $pulse }. Tell your clinic if it stays so, and at once if you feel unwell.
alert-symptoms-emergency = Symptoms come first, whatever the numbers say. With the symptoms that were noted, call your emergency number now.
alert-symptoms-contact-now = Symptoms come first, whatever the numbers say. With the symptoms that were noted, contact your clinic, your maternity unit or the out-of-hours service now.
alert-symptoms-contact-today = Symptoms come first, whatever the numbers say. If you feel faint, dizzy or unwell, sit or lie down, and contact your clinic or out-of-hours service today.
alert-symptoms-ask = Words were noted that are none of the list. Is it one of these symptoms?
alert-irregular-pulse = The monitor reported an irregular pulse in several sessions. Tell your clinic; only an ECG shows what it is.
emergency-if = If you have chest pain, breathlessness, a drooping face, sudden weakness or numbness, trouble speaking, loss of sight, confusion, a seizure, severe headache or back pain, or if you faint, call your emergency number now.
pregnancy-if = With a severe headache, blurred or flashing vision, severe pain just below the ribs, vomiting, or sudden swelling of face, hands or feet, contact your maternity unit at once, whatever the numbers say.
no-extra-medicine = Take no extra medicine because of a reading.

## These days: the period, day by day

title-week = These days
period-line = { $days }, by the protocol { $protocol }.
period-day = Day { $day } of { $days }
column-day = Day
average = Average
average-exact = With one decimal { $average },
mean-mornings = Mornings { $mean }, { $n ->
    [one] { $n } reading
   *[other] { $n } readings
}
mean-evenings = Evenings { $mean }, { $n ->
    [one] { $n } reading
   *[other] { $n } readings
}
progress = Sessions of these days
place-complete = complete
place-begun = begun, and not complete
place-missed = none came
place-due = due now
place-to-come = to come
picture-title = Readings of { $who }, { $days }
picture-readings = { $counted } counted, { $marked } counted with something to know, { $aside } set aside. The table has every value.
picture-readings-say = Each stem is a reading, from the upper number down to the lower one, in mmHg. In each day, morning stands left and evening right. Broken lines: the level that the average is held against.
picture-points = Means of { $n ->
    [one] one { $every ->
        [day] day
        [week] week
       *[month] month
    }
   *[other] { $n } { $every ->
        [day] days
        [week] weeks
       *[month] months
    }
}, the first { $first }, the last { $last } mmHg. Readings at the clinic: { $clinic }. Changes of medicine: { $changes }.
picture-points-say = Each pair of points is the mean of a { $every ->
    [day] day
    [week] week
   *[month] month
}, upper and lower number, in mmHg; the line through a point reaches from the lowest to the highest reading. An open point has readings on fewer than three days.
not-begun = Not begun yet
not-begun-say = The days begin when you say so. Until then nothing is missed, and a reading that comes all the same is kept.
period-over = These days are over.
period-over-next = Take the sheet to your clinic. Begin again when the clinic asks for it.
sheet-open-week = The sheet for the clinic
title-household = Everybody today
household-waiting = { $n ->
    [one] { $n } question waits for an answer.
   *[other] { $n } questions wait for an answer.
}
household-missed = { $n ->
    [0] No session of these days is missing.
    [one] { $n } session of these days is missing.
   *[other] { $n } sessions of these days are missing.
}
household-average = Average { $average } mmHg
household-before = Before it { $average } mmHg
household-last = Last reading: { $moment }
household-told = Who was told
household-told-what = { $kind ->
    [urgent] A reading or symptoms that must not wait
    [session-due] A session is due
    [half-done] A session is half done
    [missed] A session was missed
    [period-finished] The days are over
    [after-birth] The levels of pregnancy have ended
   *[other] Something else
}, by “{ $route }”, { $moment }: { $standing ->
    [sent] told
   *[not-sent] not told
}
average-of = { $n ->
    [one] of { $n } reading
   *[other] of { $n } readings
} on { $days ->
    [one] { $days } day
   *[other] { $days } days
}
average-interval = Very likely { $systolic } systolic and { $diastolic } diastolic.
interval-range = { $low } to { $high }
average-not-yet = No average yet
average-not-yet-say = An average is shown once there are enough readings to trust it. So far { $sessions } of { $expected } sessions are there.
threshold-line = Held against { $systolic }/{ $diastolic } mmHg ({ $source }): the average is { $where ->
    [above] at or above it. Only a clinician can say what it means.
   *[below] below it.
}
target-by = Chosen by { $said }.
target-source = Source: { $said }.
target-line = The clinic’s target is below { $systolic }/{ $diastolic } mmHg: the average is { $where ->
    [below] below it.
   *[not-below] not below it.
}
superseded-by = This protocol is superseded by { $by }.
labels-off = No threshold is applied to this person.
caution-average = This is an average, not a diagnosis. Do not start, stop or change a medicine because of it.
session-missed = none came
session-to-come = to come
session-due = due now
sessions-there = { $sessions } of { $expected } sessions
readings-set-aside = { $n ->
    [0] No reading was set aside.
    [one] { $n } reading was set aside; it stands in the table with its reason.
   *[other] { $n } readings were set aside; they stand in the table with their reasons.
}
medicine-changed-within = Medicine was changed within these days ({ $days }): the average mixes before and after.
balance-even = { $mornings } mornings and { $evenings } evenings.
balance-uneven = Not even: { $mornings } mornings and { $evenings } evenings; an even average has at least { $mornings-min } mornings and { $evenings-min } evenings.
balance-sittings = With the same weight for every sitting it would be { $mean }.
interval-too-wide = The days are too few, or differ too much, to say how far it may be off
outside-sessions = { $n ->
    [one] { $n } reading stands outside every session and is not in this average; with it the average would be { $with }.
   *[other] { $n } readings stand outside every session and are not in this average; with them it would be { $with }.
}
shapes = Filled: counted. Open: counted, with something to know. Struck through: set aside, not averaged.
table-week = Readings in mmHg, systolic over diastolic

## Earlier: every reading

title-earlier = Earlier
table-earlier = Readings of { $month }, systolic over diastolic
column-time = Time
column-values = mmHg
column-pulse = Pulse
months = Months
span = How much of it
span-year = One year, week by week
span-all = All years, month by month
picture-tap = Tap a { $every ->
    [day] day
    [week] week
   *[month] month
} to open it.
picture-clinic = Crosses, at the clinic: { $readings }.
picture-changes = Upright broken lines, medicine changed: { $days }.
table-parts = The same as a table, { $every ->
    [day] day by day
    [week] week by week
   *[month] month by month
}
column-from = From
column-readings = Readings
no-readings = No reading in this month.
no-readings-yet = No reading has come yet. The first one appears here by itself.
newer-month = Newer: { $month }
older-month = Older: { $month }

## For the clinic

title-sheet = For the clinic
sheet-say = One page that a physician reads in a minute, then every reading. It is made at this moment and leaves this house only with you.
sheet-from = First day
sheet-days = Number of days
sheet-default = Left empty: the period that runs, else the last one.
sheet-open = Show it
sheet-pdf = PDF, A4
sheet-pdf-letter = PDF, US Letter
sheet-none = There is nothing to put on a sheet yet.
sheet-list-all = List every reading, of more than 31 days too
sheet-too-many = { $n } readings are more than a sheet can hold ({ $most }): ask for fewer days.
empty-days = { $who } has no reading from { $from } to { $to }; { $near }
empty-at-all = there is no reading at all yet
empty-before = the last before was on { $before }
empty-after = the first after was on { $after }
empty-between = the nearest are on { $before } and { $after }

## The sheet for the clinic

short-date = { $day } { $month } { $year }
short-day = { $weekday } { $date }
day-of-month = { $day } { $month }
plot-day = { $weekday } { $day } { $month }
list-and = { $most } and { $last }
not-stated = not stated
unit-d = d
unit-h = h
unit-min = min
unit-s = s
arms-between = arms of { $min } to { $max } cm
arms-from = arms from { $min } cm
arms-to = arms up to { $max } cm
sheet-number = Sheet { $number } of { $all }
sheet-letters-missing = Some letters are in no font of the machine that made this file: they stand as “?”. The report as HTML shows them, and so does text that is copied from here.
sheet-no-font = No font of this machine has letters that this sheet needs ({ $scripts }), so no PDF was made. On the server, install { $packages }, or take the sheet as it is shown here.
sheet-title = Home blood pressure of { $who }
sheet-whose = { $about }. { $days }. Protocol: { $title } ({ $name }).
sheet-born = born { $born }
sheet-record-number = record number { $number }
sheet-left-arm = left arm
sheet-right-arm = right arm
sheet-average = Average of { $n ->
    [one] { $n } reading
   *[other] { $n } readings
} on { $days ->
    [one] { $days } day
   *[other] { $days } days
}{ $pulse ->
    [none] .
   *[other] , pulse { $pulse } a minute.
}
sheet-interval = The 95 % interval is { $systolic } systolic and { $diastolic } diastolic.
sheet-no-average = No average
sheet-no-average-say = Not enough readings for an average ({ $there }). No average is shown, because a number that is shown is a number that is used.
sheet-none-counts = none counts
sheet-no-threshold = No threshold is applied: { $why }
sheet-threshold-reached = At or above the threshold of { $limits } mmHg in { $which }. Only a clinician can say what it means.
sheet-threshold-below = Below the threshold of { $limits } mmHg.
sheet-threshold-would = The threshold would be { $limits } mmHg.
sheet-threshold-exact = The exact { $which ->
    [systolic] systolic
   *[diastolic] diastolic
} average is { $exact }, below { $limit }.
sheet-threshold-source = Threshold: { $source }
sheet-set-by-clinic = set by the person's clinic
sheet-band = The guideline's own word: { $name } ({ $source }).
sheet-go-on = So close to the threshold the protocol goes on to { $days } days.
reached-systolic = systolic
reached-diastolic = diastolic
reached-morning-systolic = morning systolic
reached-morning-diastolic = morning diastolic
reached-evening-systolic = evening systolic
reached-evening-diastolic = evening diastolic
sheet-caution = This is an average, not a diagnosis. Symptoms come first, whatever the numbers say. Do not start, stop or change a medicine because of it. A program that is off raises no alarm. Made on { $moment }.
sheet-trouble = When it was made, { $what }, since { $since }.
sheet-trouble-since-unknown = When it was made, { $what }, nobody knows since when.
trouble-not-running = readings do not arrive: the program that listens does not run
trouble-no-answer = readings do not arrive: the program that listens does not answer
trouble-no-bluetooth = readings do not arrive: the Bluetooth service does not run
trouble-no-adapter = readings do not arrive: there is no Bluetooth adapter
trouble-off = readings do not arrive: the Bluetooth adapter is off
trouble-radio = readings do not arrive: { $detail }
trouble-disk = readings are not kept: { $detail }
trouble-clock = the clock of the gateway is not known to be right
trouble-silent = the monitor { $detail } has not been heard for longer than is its habit
trouble-delivery = readings do not reach the clinic's server: { $detail }
trouble-not-delivering = readings wait to go to the clinic's server: the program that delivers does not run
sheet-raised = { $about } on { $moment }
about-symptoms = Symptoms
about-very-high = Very high
about-very-high-in-pregnancy = Very high in pregnancy
about-high-in-pregnancy = High in pregnancy
about-very-low = Very low
about-low = Low
about-pulse = Pulse
about-irregular-pulse = Irregular pulse
sheet-urgent-told = What the household was told stands under “{ $heading }”.
sheet-urgent-more = { $n } more of this kind, all under “{ $heading }”.
sheet-answered = { $moment }: { $what }.
sheet-answered-by = { $moment }: { $what }, said by { $by }.
sheet-settled = Later readings settled it, on { $moment }.
sheet-overtaken = Another one was raised on { $moment }.
sheet-unanswered = Nobody has said what was done.
sheet-low-diastolic = Low diastolic: { $n } of { $all ->
    [one] { $all } reading
   *[other] { $all } readings
} have a diastolic below { $limit } mmHg, { $very-low } of them below { $very-low-limit }; the lowest is { $lowest }. Nobody was alarmed by it.
sheet-standing = Standing up on { $say } Source: NICE 2023 and ESC 2024 name a fall of 20/10; the minutes are counted from the last reading at rest.
table-averages = Averages in mmHg, systolic over diastolic
column-systolic-95 = 95 % systolic
column-diastolic-95 = 95 % diastolic
column-days = Days
row-all-days = Of all days
row-protocol-without-first = By the protocol, without the first day
row-protocol-all-days = By the protocol, of all days
row-without-first = Without the first day
row-mornings = Mornings
row-evenings = Evenings
row-first-mornings = First reading of each morning
row-standing = Standing, not in the average
row-lying = Lying, not in the average
row-night = Night, not in the average
below-plot-stems = Each reading is a thin stem from systolic to diastolic. Those that were set aside are ticks at the lower edge; the table tells counted from marked.
below-plot-days = In each day mornings stand left, evenings right; a missed session leaves a gap.
below-plot-dashed = Dashed: the threshold.
below-plot-dashed-across = Dashed from left to right: the threshold.
below-plot-left-out = { $n ->
    [one] { $n } reading without a time or a possible value stands in the table only.
   *[other] { $n } readings without a time or a possible value stand in the table only.
}
below-plot-every = Each point is the mean of a { $every ->
    [day] day
    [week] week
   *[month] month
}, its line goes from the lowest to the highest reading that counts.
below-plot-aside = { $n ->
    [one] { $n } reading
   *[other] { $n } readings
} set aside: counted below, not drawn.
sheet-completeness = { $sessions } of { $expected } sessions. { $n ->
    [one] { $n } reading
   *[other] { $n } readings
}: { $counted } counted, { $marked } of them marked{ $marked-why }; { $aside } set aside{ $aside-why }.
sheet-nobodys = { $n ->
    [one] { $n } more reading of these days is nobody's yet.
   *[other] { $n } more readings of these days are nobody's yet.
}
sheet-mornings-and-evenings = Mornings and evenings
sheet-heavy-ticks = The heavy ticks at the right are the means.
sheet-every-day = Day by day
sheet-every-week = Week by week
sheet-every-month = Month by month
sheet-sure = How sure the average is
sheet-to-look-at = For the clinician to look at
sheet-complete = How complete the period was
sheet-vary = How the readings vary
sheet-reasons = Why readings were marked or set aside
sheet-readings = All readings
sheet-noted = Noted in these days
sheet-monitor = The monitor
sheet-clocks = Clocks
sheet-protocol = The protocol
sheet-to-bear-in-mind = To bear in mind
sheet-interval-means = The interval takes the day as the unit that repeats, because readings of one day resemble each other. It does not know an error of the monitor. The exact average is compared with the threshold, never a rounded one.
sheet-carried-over = Nor does it know whether days carry over: if each day resembled the one before it, with an assumed correlation of { $assumed }, the interval would be { $systolic } systolic and { $diastolic } diastolic. A week cannot tell.
beside-nothing-noted = No symptom and no change of medicine was noted in these days.
beside-medicine = Medicine: { $changes }. No symptom was noted in these days.
beside-symptoms = Symptoms: { $symptoms }. No change of medicine was noted in these days.
beside-both = Symptoms: { $symptoms }. Medicine: { $changes }.
beside-clinic-none = No reading at the clinic was noted, in the eight weeks before either.
beside-clinic = At the clinic: { $readings }.
beside-changed = changed
beside-on = { $what } on { $day }
beside-more = and { $n } more
beside-before-none = There is no period before this one.
beside-before = The period before ({ $days }, by { $protocol }): { $average } mmHg, of { $n ->
    [one] { $n } reading
   *[other] { $n } readings
}.
beside-before-too-few = The period before ({ $days }, by { $protocol }) had too few readings for an average.
beside-measured-with = Measured with { $monitors }; on { $arm ->
    [left] the left arm
    [right] the right arm
   *[none] an arm that nobody has stated
}, { $around ->
    [none] its girth not stated.
   *[other] { $around } cm around.
}
beside-upper-arm = upper arm
beside-wrist = wrist
beside-site-not-stated = where it is worn not stated
beside-validation = validation as stated: { $listed }
beside-validation-none = no validation stated
beside-cuff-not-stated = cuff size not stated
beside-cuff = cuff for { $arms }
sheet-week-of = Week of { $day }
column-mean = Mean
column-systolic = Systolic
column-diastolic = Diastolic
column-on-days = On days
table-every = Readings of each { $every ->
    [day] day
    [week] week
   *[month] month
} that count, in mmHg: their mean, and from the lowest to the highest. None of these means is an average by the protocol.
sheet-not-listed = { $n ->
    [one] { $n } reading
   *[other] { $n } readings
} of so many days are not listed one by one; how many were marked or set aside, and why, stands above. To have them all: quietcuff report --readings.
column-morning = Morning
column-evening = Evening
column-other = At other times
table-sessions = Readings by { $by ->
    [month] month
   *[day] day
} and part of the day: { $sessions } of { $expected } sessions held. { $balance }
cell-none = none
cell-counted = { $n } counted
cell-aside = { $n } set aside
cell-both = { $counted } counted, { $aside } set aside
cell-marked = marked
cell-own-mean = in a mean of its own
cell-outside = outside every session
cell-left-out = left out by the protocol
cell-no-value = no value
cell-monitor = monitor
cell-person = person
table-spread = Spread in mmHg, the coefficient of variation in per cent
column-averaged = Readings averaged
column-n = n
column-sd = Standard deviation
column-cv = Coefficient of variation
column-arv = Average real variability
column-range = Range
row-all-systolic = All, systolic
row-all-diastolic = All, diastolic
row-first-systolic = First of each morning, systolic
row-first-diastolic = First of each morning, diastolic
sheet-vary-say = For information, not a verdict: there is no agreement on how to measure variability, and no trial shows that lowering it helps (ESC 2024, section 5.6). Average real variability: mean absolute difference of readings that follow one another (Mena et al., J Hypertens 2005;23:505).
sheet-effect = Known effect in mmHg, shown and never subtracted: systolic { $systolic }, diastolic { $diastolic } ({ $source }).
effect-none = no significant effect
effect-higher = { $by } higher
effect-lower = { $by } lower
effect-between = { $lower } lower to { $higher } higher
effect-about = about { $by } different
effect-up-to = up to { $by } different
effect-too-small = too small: { $by } higher
effect-too-large = too large: { $by } lower
basis-observed = observed
basis-reported = reported
basis-on-record = on record
sheet-reasons-none = None was.
table-reasons = Reasons, how often, and how each is known
column-reason = Reason
column-known = Known
column-says = What it says
column-source = Source
column-part = Part
column-disposition = Disposition
column-why = Why
column-clock-off = Clock off
part-morning = morning
part-evening = evening
part-other = other
table-readings = { $n ->
    [one] { $n } reading
   *[other] { $n } readings
} by the household's clock, systolic over diastolic in mmHg unless another unit is named
clock-slow = { $by } slow
clock-fast = { $by } fast
clock-was = the clock was { $one }
clock-up-to = from none to { $other }
clock-between = the clock was between { $one } and { $other }
column-when = When
column-about = About the
column-what = What
table-noted = What the household noted; said by a person, not measured
sheet-due = Due since { $date }: { $task } ({ $because }).
because-dropped = it was dropped on { $date }
because-badly-stored = it was badly stored on { $date }
because-many-people = many people used it in one day on { $date }
because-disagrees = it disagrees with the clinic's readings on { $date }
because-scatters = its readings have begun to vary widely on { $date }
because-checked = last checked on { $date }
because-never-checked = never checked, in use since { $date }
because-unknown = nobody has stated when it was bought or checked
because-years = { $years } years in use, counted from { $since }
because-battery = its battery was at { $level } % on { $date }
fact-worn = Worn
fact-on-upper-arm = on the upper arm
fact-on-wrist = on the wrist
fact-made = Maker and model
fact-serial = Serial number
fact-validation = Validation
fact-validated = stated by a person: { $listed }
fact-not-validated = nobody has stated one
fact-cuff = Cuff
fact-arm = The person's arm
fact-around = { $cm } cm around
fact-in-use = In use since
fact-checked = Last check
fact-never-checked = none noted
fact-falls = Falls since then
column-fact = Fact
column-on-record = On record
table-monitor = Monitor { $monitor }, { $n ->
    [one] { $n } reading
   *[other] { $n } readings
} in these days
column-monitor = Monitor
column-time-known = Time known by
column-correction = Correction
table-clocks = How the time of each reading is known, and what was corrected
time-by-clock = its stamp, held against the monitor's own clock
time-by-offset = its stamp, shifted by the last known difference of that clock
time-by-stamp = its stamp as it stands; nothing better is known of that clock
time-by-receipt = the moment of its receipt
time-by-word = a person's word
time-by-nothing = nothing: it is unknown
column-rule = Rule
column-value = Value
column-read = Read
table-rules = The rules of { $name }, and how far each source was read
rule-days = Days
rule-sessions = Sessions a day
rule-readings = Readings a session
rule-gap = Least time between them
rule-not-asked = not asked for
rule-asked = asked for
rule-asked-before-bed = asked for; judged where going to bed was noted
rule-days-min = Fewest days for an average
rule-readings-min = Fewest readings for an average
rule-mornings-min = Mornings of an even average
rule-evenings-min = Evenings of an even average
rule-at-least = at least { $n }
rule-settling = Settling after a change of medicine
rule-of-days = { $n } days
rule-first-day = The first day
rule-left-out = left out
rule-averaged = averaged
rule-threshold = Its threshold
rule-target = Target on treatment, { $name }
rule-below = below { $limits }; not applied here
tie-not-just-woken = not just woken
tie-within-hour-of-waking = within hour of waking
tie-before-breakfast = before breakfast
tie-before-medicines = before medicines
tie-before-dinner = before dinner
tie-before-bed = before bed
read-in-full = in full
read-in-a-summary = in a summary
read-from-memory = from memory, unconfirmed
read-common-practice = common practice
read-own-choice = own choice
read-clinic = the clinic's
mind-no-threshold = No threshold in pregnancy, for children, in atrial fibrillation or on a dialysis arm, unless a clinician set it up.
mind-validation = Whether the monitor is validated and the cuff fits is for a person to check.
mind-nothing-corrected = No value was corrected for a fault. What was set aside or marked is listed, never removed.
mind-reported = Reasons that begin with “reported” are a person's word, not the monitor's.
plot-title = Blood pressure of { $who }, { $days }
plot-threshold = threshold
plot-pulse = pulse
plot-pulse-a-minute = pulse a minute
lane-morning = morning
lane-evening = evening
lane-other = other
plot-half = { $slot ->
    [morning] Mornings
   *[evening] Evenings
}: mean { $mean }, { $n ->
    [one] { $n } reading
   *[other] { $n } readings
}
plot-half-no-mean = { $slot ->
    [morning] Mornings
   *[evening] Evenings
}: no mean, too few readings
plot-says-counts = { $counted } counted, { $marked } marked and { $aside } set aside over { $days }.
plot-says-from-to = Averaged systolic pressures from { $low-systolic } to { $high-systolic }, diastolic from { $low-diastolic } to { $high-diastolic } mmHg.
plot-says-dashed = Dashed lines at the threshold of { $limits }.
plot-says-table = The table of all readings has every value.
plot-says-table-of-parts = The table of them has every value.
plot-says-parts = { $n ->
    [one] { $n } { $every ->
        [day] day
        [week] week
       *[month] month
    }
   *[other] { $n } { $every ->
        [day] days
        [week] weeks
       *[month] months
    }
} with readings that count in { $days }.
plot-says-first-last = The mean of the first is { $first }, of the last { $last } mmHg.
plot-says-lowest-highest = The lowest mean is { $lowest }, the highest { $highest } mmHg.
key-mean = mean of a { $every ->
    [day] day
    [week] week
   *[month] month
}, lowest to highest
key-few-days = on fewer than 3 days
key-clinic = at the clinic
key-medicine = medicine changed

## The program's own protocols; names of guidelines stay as they are

protocol-seven-days-morning-and-evening = Seven days, morning and evening
protocol-two-weeks-morning-and-evening = Two weeks, morning and evening
protocol-one-day-a-week-for-twelve-weeks = One day a week for twelve weeks
protocol-esh-2023-from-memory = ESH 2023 (from memory)
protocol-india-igh-iv-2019-not-confirmed = India, IGH-IV 2019 (not confirmed)
protocol-ish-2020-from-memory = ISH 2020 (from memory)
protocol-jsh-2019-schedule-not-confirmed = JSH 2019 (schedule not confirmed)
protocol-jsh-2025-schedule-not-confirmed = JSH 2025 (schedule not confirmed)
protocol-elevated = elevated
protocol-hypertension-range = hypertension range
protocol-stage-1-range = stage 1 range
protocol-stage-2-range = stage 2 range
protocol-on-treatment = on treatment
protocol-on-treatment-all-adults = on treatment, all adults
protocol-on-treatment-under-80-years = on treatment, under 80 years
protocol-on-treatment-80-years-and-over = on treatment, 80 years and over
protocol-under-75-years-or-high-risk = under 75 years, or high risk
protocol-75-years-and-over = 75 years and over
protocol-all-ages-if-tolerated = all ages, if tolerated

## What is worked out of readings, for the clinician

balance-parts = { $mornings ->
    [one] { $mornings } morning
   *[other] { $mornings } mornings
} and { $evenings ->
    [one] { $evenings } evening
   *[other] { $evenings } evenings
}, { $readings } averaged in each sitting.
balance-parts-uneven = Not even: { $mornings ->
    [one] { $mornings } morning
   *[other] { $mornings } mornings
} and { $evenings ->
    [one] { $evenings } evening
   *[other] { $evenings } evenings
}, { $readings } averaged in each sitting; an even average has at least { $mornings-min ->
    [one] { $mornings-min } morning
   *[other] { $mornings-min } mornings
} and { $evenings-min ->
    [one] { $evenings-min } evening
   *[other] { $evenings-min } evenings
}.
balance-mean-of-sittings = The mean of the { $sittings } sittings' means is { $mean } mmHg: some sittings have many more readings than others.
chance = Judged by how these readings vary, the chance that this person's average over many such days is at or above { $limits } is { $chance }. It allows for scatter between days and between readings, not for an error of the monitor, and it is not a diagnosis.
chance-least = less than 1 in 100
chance-most = more than 99 in 100
chance-about = about { $percent } in 100
no-interval-too-wide = The days are too few, or differ too much, for an interval that would mean anything.
no-interval-one-day = One day alone gives no interval.
insufficient = { $readings } of { $readings-min } readings{ $dropped ->
    [yes] { " " }without the first day
   *[no] { "" }
}{ $at-most ->
    [0] { "" }
   *[other] { " " }(of one sitting at most { $at-most })
}, { $days } of { $days-min }{ $consecutive ->
    [yes] { " " }consecutive
   *[no] { "" }
} days
labels-off-young = under 18 or just about: adult thresholds do not apply (Stergiou et al., J Hypertens 2007: home limits by height)
labels-off-pregnancy = pregnancy or the eight weeks after birth: home thresholds are not proven there (ESC 2024, section 9.2)
labels-off-atrial-fibrillation = known atrial fibrillation: most automatic monitors are not validated for it (ESC 2024; NICE NG136)
labels-off-dialysis = dialysis: home thresholds apply only where a clinician set them up
target-stands = The clinic's target for this person is below { $limits } mmHg{ $from }{ $stands ->
    [below] : the average is below it.
    [not-below] : the average is not below it.
   *[none] ; there is no average to hold against it.
}
target-from-both = { " " }(chosen by { $by }; source: { $source })
target-from-by = { " " }(chosen by { $by })
target-from-source = { " " }(source: { $source })
outside-counted = { $n ->
    [one] { $n } counted reading stands outside every session and is not in the average.
   *[other] { $n } counted readings stand outside every session and are not in the average.
}
outside-counted-with = { $n ->
    [one] { $n } counted reading stands outside every session and is not in the average; with it
   *[other] { $n } counted readings stand outside every session and are not in the average; with them
} it would be { $with } mmHg ({ $change }).
standing-up = { $day }: { $from ->
    [lying] lying
    [night] night
    [standing] standing
   *[seated] seated
} { $rest } mmHg{ $first }{ $third }.
standing-after-1 = ; after 1 minute standing { $standing }, a fall of { $by }{ $reaches ->
    [yes] , which reaches 20 or 10
   *[no] { "" }
}
standing-after-3 = ; after 3 minutes standing { $standing }, a fall of { $by }{ $reaches ->
    [yes] , which reaches 20 or 10
   *[no] { "" }
}
medicine-changed-on = Medicine was changed within these days, on { $days }: the average mixes before and after.
change-lacks = { $before ->
    [one] { $before } day
   *[other] { $before } days
} before and { $after ->
    [one] { $after } day
   *[other] { $after } days
} from { $settled } on; { $needed } of each are needed
pattern-irregular-pulse = Irregular pulse
pattern-arms-differ = Arms differ
pattern-white-coat = White coat
pattern-masked = Masked
pattern-white-coat-effect = White coat effect
pattern-clinic-beside-home = Clinic beside home
pattern-medicine-settling = Medicine settling
pattern-medicine-changed = Medicine changed
pattern-morning-rise = Morning rise
pattern-morning-average = Morning average
pattern-called-white-coat = white-coat
pattern-called-masked = masked
pattern-say-irregular-pulse = Irregular pulse reported by the monitor in { $sessions } sessions ({ $readings } readings). A monitor cannot say why; an ECG can.
pattern-say-arms-differ = In { $n ->
    [one] { $n } sitting
   *[other] { $n } sittings
} with both arms ({ $needed } are needed), the { $arm ->
    [right] right
   *[left] left
} arm was higher by { $by } mmHg systolic, by { $least } or more with a chance of 97.5 %. The guideline has the arm with the higher pressure used from then on; readings of both arms are in this average.
pattern-say-morning-rise = On { $n ->
    [one] { $n } day
   *[other] { $n } days
} with both (more than { $needed } are needed) the morning systolic mean was above the evening one by { $by } mmHg on average, by { $least } or more with a chance of 97.5 %. The consensus names { $marker } a marker of risk apart from the average.
pattern-say-morning-average = The mean of { $n } morning readings on { $days ->
    [one] { $days } day
   *[other] { $days } days
} is { $mean }{ $interval }, at or above 135/85; more than { $readings-needed } on more than { $days-needed } days are needed. The consensus looks at the morning mean for itself, whatever the clinic's readings are.
pattern-interval = { " " }(95 % { $systolic } over { $diastolic })
pattern-by = { $by } (95 % interval { $low } to { $high })
pattern-say-medicine-settling = Medicine changed on { $change }, as noted. The days until { $settled } are settling and are compared with nothing. So far there are { $before ->
    [one] { $before } day
   *[other] { $before } days
} before and { $after ->
    [one] { $after } day
   *[other] { $after } days
} after that; { $needed } of each are needed.
pattern-say-medicine-changed = Medicine changed on { $change }, as noted. From { $settled } on ({ $after ->
    [one] { $after } day
   *[other] { $after } days
}) against before ({ $before ->
    [one] { $before } day
   *[other] { $before } days
}): systolic { $systolic }, diastolic { $diastolic }. The days between are settling and are left out. That one came after the other does not say that it came from it.
pattern-beside = Clinic readings within { $within } days average { $clinic } (95 % { $systolic } over { $diastolic }), from { $visits ->
    [one] { $visits } visit
   *[other] { $visits } visits
} of { $needed } needed, { $clinic-readings ->
    [one] { $clinic-readings } reading
   *[other] { $clinic-readings } readings
}; home readings { $home }{ $interval }, from { $home-readings ->
    [one] { $home-readings } reading
   *[other] { $home-readings } readings
} on { $days ->
    [one] { $days } day
   *[other] { $days } days
}
pattern-say-named = { $beside }: at or above the limit { $shape ->
    [clinic] in the clinic
   *[home] at home
} only ({ $there } there, { $here } here). The guideline calls this the { $name } pattern; whether it is one, and what the person's treatment has to do with it, is for the clinician.
pattern-say-white-coat-effect = { $beside }: the clinic's are higher by { $by }. NICE calls a difference of more than 20/10, at the time of diagnosis, white-coat effect.
pattern-say-unnamed = { $beside }: { $why ->
    [limits] no pattern can be named here
    [visits] too few visits to name a pattern
   *[chance] no pattern can be told from chance
}.
pattern-say-monitor-scatters = Since about { $day } two readings of one session differ more than before: by { $after } mmHg on average, before by { $before }. Have the monitor and its cuff checked.
pattern-say-monitor-disagrees = Around { $day } home readings were { $newest } mmHg from the clinic's, { $n } times before { $usual } on average. A changed medicine can do that; so can the monitor. Have it checked beside the clinic's.

## What to do next, on the terminal

next-not-begun = no days were begun yet
next-begins = the days begin on { $day }
next-ended = the days ended on { $day }
next-begin-first = No days were begun for { $who } yet. { $command } begins them; a reading that comes all the same is kept.
next-again-now = Measure again now. { $say }
next-alert = { $say }
next-because-alert = { $what ->
    [symptoms] symptoms were noted
    [ask] words were noted that are none of the list
    [very-high] a reading is very high
    [very-high-in-pregnancy] a reading is very high
    [high-in-pregnancy] a reading is high for pregnancy
    [very-low] a reading is very low
    [low] a reading is low
    [pulse] the pulse of a reading is very fast or very slow
   *[irregular-pulse] the monitor reported an irregular pulse
}{ $nobodys ->
    [yes] , and nobody has said whose it is
   *[no] { "" }
}, since { $since } ({ $source })
next-all-in = { $n } readings in; the session is complete
next-done = Done. Take the cuff off.
next-now = now
next-at = at { $time }
next-moment = { $day } { $time }
next-set-aside = the last reading was set aside: { $reason }
next-set-aside-so = the last reading was set aside: no reason
next-measure-again = Measure again { $when }.
next-apart = the first two readings differ by more than { $limit } mmHg
next-in = { $n ->
    [1] one reading
    [2] two readings
    [3] three readings
   *[other] { $n } readings
} in; { $wanted ->
    [2] two
    [3] three
   *[other] { $wanted }
} belong to a session
next-keep-on = Keep the cuff on. Take the { $which ->
    [second] second
   *[third] third
} reading { $when }.
next-take = Take the { $which ->
    [second] second
   *[third] third
} reading now.
next-nothing-due = no session is due now
next-complete = the { $slot ->
    [morning] morning
   *[evening] evening
} session is complete
next-due = the { $slot ->
    [morning] morning
   *[evening] evening
} session is due
next-due-again = the { $slot ->
    [morning] morning
   *[evening] evening
} session is due: the last one ended with { $counted } of { $wanted } readings
next-rest = Sit quietly for 5 minutes, back, arm and feet supported, then take the first reading.
next-wait-noted = Wait until { $time }, 30 minutes after what you noted.
next-coming = The next session is the { $slot ->
    [morning] morning
   *[evening] evening
} one, { $day } from { $time }.
next-beware = Beware: { $what }
state-rest = rest
state-wait = wait
state-second = second
state-third = third
state-done = done
state-repeat = repeat
state-not-due = not-due
state-seek-help = seek-help

## Short names of the reasons

why-body-movement = body movement
why-cuff-too-loose = cuff too loose
why-improper-position = improper position
why-irregular-pulse = irregular pulse
why-pulse-rate-above-range = pulse rate above range
why-pulse-rate-below-range = pulse rate below range
why-no-value = no value
why-impossible-value = impossible value
why-unlikely-value = unlikely value
why-too-soon = too soon
why-time-unknown = time unknown
why-clock-fault = clock fault
why-person-unknown = person unknown
why-discarded = discarded
why-outside-window = outside window
why-lone-reading = lone reading
why-third-reading-missing = third reading missing
why-wrist-monitor = wrist monitor
why-cuff-size = cuff size
why-not-validated = not validated
why-reported-coffee = reported coffee
why-reported-smoking = reported smoking
why-reported-exercise = reported exercise
why-reported-alcohol = reported alcohol
why-reported-meal = reported meal
why-reported-dinner = reported dinner
why-reported-medicine = reported medicine
why-reported-just-woken = reported just woken
why-reported-long-awake = reported long awake
why-reported-long-before-bed = reported long before bed
why-reported-no-rest = reported no rest
why-reported-full-bladder = reported full bladder
why-reported-talked = reported talked
why-reported-over-clothing = reported over clothing
why-reported-other-arm = reported other arm
why-reported-legs-crossed = reported legs crossed
why-reported-back-unsupported = reported back unsupported
why-reported-arm-unsupported = reported arm unsupported
why-reported-arm-low = reported arm low
why-reported-fist-clenched = reported fist clenched
why-reported-posture = reported posture
why-reported-standing = reported standing
why-reported-lying = reported lying
why-reported-night = reported night

## Notes

title-notes = Notes
notes-say = One tap, and it is noted for this moment.
notes-when = When
notes-now = Now
notes-minutes = { $n } minutes ago
notes-hour = An hour ago
note-medicine = Medicine taken
note-medicine-changed = Medicine changed
note-coffee = Coffee or tea
note-smoking = Smoked
note-exercise = Exercise
note-alcohol = Alcohol
note-meal = A meal
note-waking = Just woken
note-dinner = Dinner
note-bed = Gone to bed
note-symptoms = Symptoms
note-posture = Posture
note-full-bladder = Full bladder
note-no-rest = No rest before
note-talked = Talked
note-over-clothing = Cuff over clothing
notes-kind = The next readings of this sitting are taken
note-standing = Standing
note-lying = Lying
note-night = At night in bed
note-seated = Seated
kind-mean-standing = Standing: { $mean } mmHg, { $n ->
    [one] { $n } reading
   *[other] { $n } readings
}. Not in the average.
kind-mean-lying = Lying: { $mean } mmHg, { $n ->
    [one] { $n } reading
   *[other] { $n } readings
}. Not in the average.
kind-mean-night = At night: { $mean } mmHg, { $n ->
    [one] { $n } reading
   *[other] { $n } readings
}. Not in the average.
note-arm-left = Left arm
note-arm-right = Right arm
note-cuff = Other cuff
note-clinic-reading = Reading at the clinic
note-monitor-dropped = Monitor dropped
note-batteries-changed = New batteries
note-monitor-checked = Monitor checked
notes-symptoms = How do you feel
notes-day = The day
notes-measuring = About the measurement
notes-words = In your own words
note-it = Note it
noted-lately = Noted lately
noted-none = Nothing has been noted yet.
take-back = Take back
symptom-chest-pain = chest pain
symptom-breathless = short of breath
symptom-face-drooping = the face droops on one side
symptom-one-sided-weakness = sudden weakness or numbness
symptom-speech = trouble speaking
symptom-sight-loss = sudden loss of sight
symptom-confused = confused
symptom-fainted = fainted or collapsed
symptom-seizure = a seizure
symptom-cold-skin = cold, clammy, pale skin
symptom-severe-headache = severe headache
symptom-severe-pain = severe pain in the back or belly
symptom-rib-pain = severe pain just below the ribs
symptom-swelling = sudden swelling of face, hands or feet
symptom-vision = blurred or flashing vision
symptom-vomiting = vomiting
symptom-dizzy = dizzy or lightheaded
symptom-sick = feeling sick
symptom-weak = feeling weak
symptom-none = none of these
something-else = Something else
something-else-say = Your own words are kept. They change no advice by themselves.

## Waiting for an answer

title-questions = Waiting for an answer
questions-none = Nothing waits for an answer.
question-whose = Whose was this?
question-when = When was this?
doubt-time-unknown = { $monitor } changed hands before this was received, and nobody knows when it was measured. So it is nobody’s until somebody says whose it is.
doubt-clock-unproven = { $monitor } changed hands within a day of this, whose time rests on a clock that nobody looked at. So it is nobody’s until somebody says whose it is.
question-whose-say = Nobody is guessed. Until you say it, this reading is not averaged.
question-when-say = The monitor’s clock could not be trusted. Received { $moment }.
answer-time = Day and time
answer-save = That is when
answer-discard = Do not average it
discarded-by-page = said on the page: not to be averaged
question-always = All that { $monitor } sends is theirs, earlier and later
question-always-user = All that { $monitor } sends as user { $number } is theirs, earlier and later
not-ours = Nobody of ours

## Monitors

title-monitors = Monitors
backup-title = Backup
backup-last = The last good backup is of { $moment }.
backup-never = No backup was made yet.
backup-old = It is old: what was measured since is on one disk only.
backup-encrypted = Only whoever has the private key can read it.
backup-plain = It is plain: whoever has the file can read it.
monitors-none = No monitor has been enrolled yet.
monitor-battery = Battery
monitor-battery-level = { $level } %, told { $date }
monitor-battery-unknown = It has not told.
monitor-heard = Last heard
monitor-never = never
monitor-measurements = Measurements
monitor-usual = Whose
held-since = since { $moment }
held-until = until { $moment }
monitor-user = number { $number }: { $person }
monitor-due = To do
monitor-due-none = Nothing.
monitor-due-on = { $task }, from { $date } on
monitor-address = Address
monitor-places = Paired at
monitor-here = this server
monitor-clock = Clock
monitor-clock-seen = { $seconds } s { $where ->
    [behind] behind
   *[ahead] ahead
}, read on { $moment }
monitor-clock-unread = Not read yet. Not every monitor lets it be read.
monitor-clock-set = Set its clock
monitor-clock-will = Its clock will be set the next time it connects.
monitor-forget = Forget this monitor
monitor-forget-say = It is listened to no longer, and its bond is removed. Its readings stay.
monitor-forget-do = Forget it
monitor-bond-kept = It is listened to no longer. Its bond could not be removed: { $why }
monitor-not-done = That was not done: { $why }
monitor-nobody-listens = the program that listens does not run on the server.
consent-title = Give a user’s code
consent-say = This monitor keeps its users apart by a number and a code, and may hand out no readings before the code is known here. Its manual says where it shows both.
consent-none = No code is kept yet.
consent-kept = A code is kept for user { $number }. It is given at each visit.
consent-waits = The monitor will be asked to register a new user at its next visit.
consent-accepted = The monitor accepted the last code: { $moment }.
consent-wrong = The monitor did not accept the last code: { $moment }. Type it once more.
consent-number = Number of the user on the monitor
consent-new = a new user, with a code that you choose
consent-code = Code, up to four digits
consent-save = Keep the code
consent-forget = Forget the code of user { $number }
consent-forget-new = Register nobody
task-check = Have it checked
task-change-batteries = Change its batteries
task-plan-replacement = Plan for its successor
task-replace = Replace it
listeners-title = Other rooms
listeners-none = No other machine hands readings on to this one.
listeners-say = A listener is a small machine near a monitor in another room or another house. It hears the monitor there and sends the readings here. It calls this server; nothing has to be opened where it stands.
listeners-manage = Let a listener in, or withdraw one
listeners-door-shut = The program that takes in what listeners send does not run, so nobody can be let in. Start it on the server:
listener-waiting = Waiting there
listener-waiting-n = { $n ->
    [0] nothing
    [one] 1 frame
   *[other] { $n } frames
}
listener-not-told = It has not told.
listener-clock-right = Known to be right.
listener-clock-unsure = Not known to be right. See that the network there leads to a time server.
listener-clock-told = Told by this server over the line, to within { $seconds } s. What it hears gets its time by that.
listener-clock-apart = { $seconds } s { $where ->
    [behind] behind
   *[ahead] ahead of
} this server’s clock.
listener-apart = It called { $moment } and was refused: it runs version { $theirs }, and this server { $ours }. Only neighbouring versions understand each other. Bring both to the same version. It keeps what it hears and sends it then.
listener-disk = Free on its disk
listener-disk-low = That is little. Free some space there, or give it a larger card.
listener-version = Version
listener-monitors = Monitors that come this way
listener-monitors-none = None yet.
listener-pair = Add a monitor there
listener-forget = Forget { $monitor } there
listener-forgotten = The listener listens to it no longer, and its bond there is removed. Its readings stay.
listener-door-shut = The program that takes in what listeners send does not run, so none of them can be asked. Start it on the server.
listener-closed = It came back with a backup. Nothing of it is taken until somebody says that it may go on.
listener-confirm = It may go on
listener-withdraw = Withdraw this listener
listener-withdraw-say = Nothing more is taken of it, from that moment on. What it has sent stays. To be let in again it needs a new code.
listener-withdraw-do = Withdraw
listener-withdrawn = Withdrawn { $moment }.
listener-connected = It is connected.
invite-title = Let a listener in
invite-label = Where it stands, such as bedroom
invite-at = Name or address under which it reaches this server
invite-do = Show a code
invite-code = The code
invite-until = It lets one listener in, once, for { $minutes } minutes: until { $time }. It is shown this once.
invite-scan = The code, for a camera
invite-there = On the listener, with the code behind it:
pair-title = Add a monitor
pair-at = At the listener { $listener }. The monitor has to be near it.
pair-done-there = The monitor is paired there. Its readings come by that listener.
pair-say = Start the monitor’s pairing mode, then look for it here. It takes up to a minute.
pair-look = Look for monitors
pair-looking = Looking.
pair-found = Found
pair-with = Pair with { $name }
pair-for = Whose readings are they?
pair-called = What to call it
pair-called-say = Letters, digits, - and _. Left empty: the name that it had, else the next free one, such as m2.
pair-passkey = The six digits that the monitor shows
pair-passkey-show = Type this on the monitor: { $passkey }
pair-send = Send them
pair-working = Pairing. Keep the monitor near.
pair-done = Paired and enrolled as { $monitor }.
pair-failed = It did not pair: { $why }
pair-refused = It refused to pair, and asked for no passkey. Start its pairing mode and look for it again.
pair-without-say = If its manual says that it cannot pair, it can be added without. Then anybody near can hear what it sends, or pretend to be it.
pair-without = Add it without pairing
pair-stop = Stop
pair-none = None was heard. Is its pairing mode on, and is it near?
pair-no-daemon = The collector does not run, so no monitor can be paired here. Start it on the server.

## People

title-people = People
person-add = Add a person
person-change = Change
person-save = Save
person-remove = Take off the lists
person-remove-say = Their readings stay theirs. From then on no number of a monitor is theirs, and their key opens nothing. The same person can come back.
person-remove-do = Take { $who } off the lists
person-removed = Taken off the lists
person-again = { $who } comes back
person-again-say = Only where it is the same person. What was known of them holds again; their numbers and their keys are given anew.
person-strict = Strict
person-strict-say = What was reported, such as coffee or talking, sets a reading aside, and does not only mark it
person-label = What you call them
person-from = from
person-to = to
person-usual = Left empty: { $from } to { $to }.
person-systolic = Systolic
person-diastolic = Diastolic
person-threshold-say = For the average at home, if their clinic gave one. Left empty: the guideline’s.
person-target-by = Who chose it
person-target-source = Where it is written
person-target-say = If their clinic chose a target. Left empty: none. Who chose it, and where that is written, such as a letter of the clinic, stand beside it on the sheet.
person-conditions = Conditions
person-conditions-say = The thresholds for adults were not made for these; no average is set against them then.
condition-pregnancy = Pregnant, or within eight weeks of giving birth
condition-atrial-fibrillation = Atrial fibrillation is known
condition-dialysis = Dialysis
arm-either = not chosen
person-wrong-label = Give a name of 1 to { $most } characters.
person-wrong-same = Somebody is called “{ $label }” already. Add what tells them apart.
person-wrong-invisible = This name holds a character that nobody sees. Type it anew.
person-wrong-alike = This name looks like “{ $label }”, which somebody is called already. Add what tells them apart.
person-wrong-born = Give a year of birth from { $first } to { $last }.
person-wrong-born-on = Give the day of birth as 1951-03-24, and none that has not come yet.
person-wrong-record-number = A record number has at most { $most } visible characters on one line.
person-wrong-group = A group is one word of at most { $most } visible characters, such as upstairs.
person-wrong-arm-cm = An upper arm measures { $least } to { $most } centimetres around.
person-wrong-number = Give years and centimetres as numbers, such as 1951 or 31.5.
person-wrong-window = Give a first and a last minute, or leave both empty.
person-wrong-overlap = Morning and evening overlap at { $time }. End one before the other begins.
person-wrong-target = Give both numbers of a target in mmHg: 40 to 300, and a smaller one of 20 to 200.
person-wrong-target-words = Say who chose the target, and where that is written.
person-wrong-target-line = Who chose a target, and where that is written, are 1 to { $most } characters each, all of them visible.
person-wrong-birth = Give the day of the birth, which is not after today.
person-wrong-threshold = Give both numbers of a threshold in mmHg: 40 to 300, and a smaller one of 20 to 200.
person-gave-birth = Gave birth on
person-gave-birth-until = { $born }: the levels of pregnancy end on { $ends }
person-gave-birth-say = Once the child is born: the levels of pregnancy hold for eight weeks from then, and the household is told when they end. Pregnant again: tick it again.
person-born = Born
person-born-ask = Born: a year, or the day as 1951-03-24
person-record-number = Record number
person-record-number-ask = Number of the record at the clinic, if the sheet should name it
person-group = Group
person-group-ask = Group, as one word, such as a floor or a ward
person-arm = Arm
arm-left = left
arm-right = right
person-arm-cm = Arm’s circumference
person-morning = Morning
person-evening = Evening
person-protocol = Protocol
person-target = The clinic’s target, below which the average is to be
person-threshold = The clinic’s threshold
person-period = Period
period-none = None was begun.
period-running = { $from } to { $to }
period-start = Begin { $days } days today
period-start-for = Begin { $days } days today for { $who }
calls-title = Whom to call
calls-say = Stands large, to be tapped, wherever something must not wait.
calls-change = Change whom to call
calls-number = Emergency number of this place, such as 112
calls-contact = Number of somebody to be told
calls-contact-name = Who that is
calls-back = Take back what was said here
calls-before = What was said before
calls-taken-back = taken back
calls-nobody = Nobody yet

## Keys and errors

title-key = Your key
key-say = This page is for the household. Type the key that you were given.
key-here = At the machine itself, quietcuff keys link prints a link that opens it once.
key-label = Key
key-enter = Come in
key-wrong = This key does not open the page: it is mistyped, was withdrawn, or its time is over.
link-wrong = This link does not open the page: it works once, and for ten minutes. Make a new one.
key-slow = Too many tries. Wait a minute.
card-title = Blood pressure: this household’s page
card-code = A code that a camera reads: { $address }
card-1 = Point the tablet’s camera at the code, and open what it shows.
card-2 = Let the tablet keep the page on its home screen.
card-3 = Stand it beside the monitor, two metres from the chair at most. It says what to do.
card-with-key = Whoever has this card has the key. On the server, quietcuff keys withdraws it.
card-only-here = This address leads to this machine only. Open the page on another machine, and print the card there.
card-key-say = A card that opens the page without typing holds a key. On the server this makes one:
card-print = A card for a tablet
error-title = That did not work
error-not-found = There is no such page.
error-not-yours = Your key does not open this.
error-forged = The form is old, or did not come from this page. Go back, load the page anew, and try again.
error-journal = The journal cannot be read at this moment. Nothing is lost; try again in a minute.
error-value = “{ $value }” cannot be used here.
error-future = This moment has not come yet.
back = Back to the start

## Reasons: why a reading is marked or set aside

reason-body-movement = The monitor felt movement. Keep still while the cuff works.
reason-cuff-too-loose = The monitor found the cuff too loose. Fit it so that two fingers just go under it.
reason-improper-position = The monitor found the position wrong. Rest the cuff at the height of the heart.
reason-irregular-pulse = The monitor reported an irregular pulse. Show your clinic if it does so again.
reason-pulse-rate-above-range = The pulse was faster than the range that the monitor is made for.
reason-pulse-rate-below-range = The pulse was slower than the range that the monitor is made for.
reason-no-value = The monitor could not get a value.
reason-impossible-value = These values cannot be: systolic not above diastolic, systolic outside 40 to 300, or diastolic outside 20 to 200 mmHg.
reason-unlikely-value = These values are unusual: systolic outside 60 to 230, diastolic outside 40 to 130, a difference of the two outside 15 to 120 mmHg, or a pulse outside 35 to 180.
reason-too-soon = Less than a minute after the reading before it. Wait a minute between readings.
reason-time-unknown = Nobody knows when it was taken. Say when, and it can be averaged.
reason-clock-fault = The monitor's clock cannot be trusted for this reading. Set its clock.
reason-person-unknown = Nobody knows whose it is. Say whose, and it can be averaged.
reason-discarded = Somebody of the household asked not to average it.
reason-outside-window = Taken outside the morning and evening hours. Where its whole sitting was, it is not in the average.
reason-lone-reading = The only reading of its session that counts. Two belong to a session.
reason-third-reading-missing = A third reading was due and none came: the first two differ by more than 10 mmHg, or three belong to this person's sessions.
reason-wrist-monitor = A wrist monitor. Hold the wrist at the height of the heart; an upper-arm monitor is preferred.
reason-cuff-size = The arm's circumference is outside the range printed on the cuff. Use a cuff that fits.
reason-not-validated = Nobody has stated that this model of monitor is validated. Look it up in your country's list.
reason-reported-coffee = Coffee less than 30 minutes before.
reason-reported-smoking = Smoking less than 30 minutes before.
reason-reported-exercise = Exercise less than 30 minutes before.
reason-reported-alcohol = Alcohol less than 30 minutes before.
reason-reported-meal = A meal less than 30 minutes before, or breakfast before the morning reading.
reason-reported-dinner = Dinner before the evening reading.
reason-reported-medicine = Medicine before the morning reading.
reason-reported-just-woken = Less than 30 minutes after waking.
reason-reported-long-awake = More than an hour after waking; this protocol wants the morning reading within it.
reason-reported-long-before-bed = More than an hour before going to bed; this protocol wants the evening reading within it.
reason-reported-no-rest = No rest before the reading. Sit quietly for 5 minutes first.
reason-reported-full-bladder = A full bladder.
reason-reported-talked = Talking during the measurement.
reason-reported-over-clothing = The cuff was over clothing, which may change the reading.
reason-reported-other-arm = Not the arm that was chosen. Stay with one arm.
reason-reported-legs-crossed = Legs crossed.
reason-reported-back-unsupported = Back not supported.
reason-reported-arm-unsupported = Arm not supported.
reason-reported-arm-low = Cuff below the height of the heart.
reason-reported-fist-clenched = A clenched fist.
reason-reported-posture = Another posture than sitting with back, arm and feet supported.
reason-reported-standing = Taken standing. It is not in the average; standing readings have a mean of their own.
reason-reported-lying = Taken lying. It is not in the average; lying readings have a mean of their own.
reason-reported-night = Taken at night in bed. It is not in the average; night readings have a mean of their own.

## What is told to those who do not look: reminders and alerts

told-not-an-alarm = quietcuff is not an alarm: a program that is off, or a radio that fails, warns nobody. It does not diagnose, and it advises on no medicine.
told-somebody = somebody of the household
told-withheld = not written here
told-reading-measured = Measured on { $moment }: { $systolic }/{ $diastolic } { $unit }.
told-reading-measured-withheld = Measured on { $moment }.
told-reading-received = Received on { $moment }: { $systolic }/{ $diastolic } { $unit }.
told-reading-received-withheld = Received on { $moment }.
told-reading-is-unknown = Nobody knows when it was taken.
told-reading-is-ahead = Its date is ahead of the clock, so nobody knows when it was taken.
choice-very-high-in-pregnancy = the eight weeks after birth; to contact somebody at the first such reading
choice-high-in-pregnancy = to measure again first; the 15 minutes at this level
choice-very-high = clearly below is 10 mmHg below: two readings of one sitting differ by less in 19 of 20 (standard deviation within a sitting 3.7 and 3.4, survey data)
choice-very-low = 80, below which fewer than one adult in a thousand is (survey data); the 5 minutes
choice-low = to measure again first; the 5 minutes; today
choice-pulse = that it holds outside acute illness too
choice-of = No source gives this: { $choice }.
told-reading-is-nobodys = Nobody has said yet whose reading it is.
told-subject-urgent = { $who }: a reading that must not wait
told-subject-symptoms = { $who }: symptoms were noted
told-subject-session-due = { $who }: the { $slot ->
    [morning] morning
   *[evening] evening
} session is due
told-session-due = Sit quietly for 5 minutes, back, arm and feet supported, then take the first reading. There is time until { $time }.
told-subject-half-done = { $who }: { $counted } of { $wanted } readings of the { $slot ->
    [morning] morning
   *[evening] evening
} session count
told-half-done-go-on = Keep the cuff on and take the next reading now.
told-half-done-again = Begin the session again: rest for 5 minutes, then measure. There is time until { $time }.
told-subject-missed = { $who }: no complete { $slot ->
    [morning] morning
   *[evening] evening
} session came { $day }
told-missed = { $counted ->
    [0] No reading counts.
    [one] One reading counts.
   *[other] { $counted } readings count.
} A reading that the monitor still holds comes with its next connection. Otherwise go on with the next session; nothing has to be made up for.
told-subject-period-finished = { $who }: the days from { $from } to { $to } are over
told-average = Average { $average } mmHg, of { $n } readings on { $days } days; { $aside ->
    [0] none was
    [one] one more was
   *[other] { $aside } more were
} set aside.
told-threshold = The level to hold it against is { $systolic }/{ $diastolic } mmHg ({ $source }). Only a clinician can say what it means for you.
told-no-threshold = No level is held against it. Only a clinician can say what it means for you.
told-average-withheld = There are enough readings for an average.
told-average-too-few = There are not enough readings for an average: { $sessions } of { $expected } sessions came. No average is shown.
told-sheet = The sheet for the clinic is ready to be made.
told-subject-battery-low = Monitor { $monitor }: its battery is at { $percent } %
told-battery-low = Change its batteries: a weak one ends a measurement half way.
told-subject-monitor-silent = Monitor { $monitor } has not been heard since { $moment }
told-monitor-silent = If somebody measured since, bring it near the server and look at its batteries. If nobody did, there is nothing to do.
told-subject-listener-silent = The listener { $listener } has not been heard since { $moment }
told-listener-silent = It is the small box that hears { $monitors ->
    [0] the monitors
    [one] one monitor
   *[other] { $monitors } monitors
} in its room and sends the readings on. If you are there, see that it is plugged in and that the network there works. While it has power, it keeps what it hears and sends it later; nothing has to be measured again.
told-subject-listener-apart = Readings from the listener { $listener } have not arrived since { $moment }
told-listener-apart = It calls, but it runs version { $theirs } and the server { $ours }: too far apart to understand each other. Bring both to the same version. It keeps what it hears and sends it then; nothing has to be measured again.
told-subject-door-shut = Nothing from other rooms has arrived since { $moment }
told-door-shut = On the server, the program that takes in what the listeners send does not run; quietcuff check says what to start. The listeners keep what they hear and send it later.
told-subject-check-due = Monitor { $monitor }: { $task }
told-check-due = Due since { $date }.
told-subject-backup-due = The last good backup is of { $moment }
told-backup-due = What was measured since is on one disk only. Connect the disk for backups; on the server, quietcuff backup makes one and says what is wrong.
told-subject-delivery-stuck = Readings do not reach the clinic’s server
told-delivery-stuck = On the server, quietcuff deliver list says what waits and why.
told-subject-after-birth = { $who }: the levels of pregnancy have ended
told-subject-daemon-deaf = No reading can be received since { $moment }
told-daemon-deaf = What is known: { $why }. A monitor with a memory keeps its readings and sends them later. On the server, quietcuff check looks at what is needed.
told-subject-lapsed = Not told in time
told-lapsed = This way of telling did not work. What could not be told from { $from } to { $to }, and is not worth telling any more: { $what }.
told-lapsed-matter = { $n } × { $kind ->
    [urgent] reading that must not wait
    [session-due] session due
    [half-done] session half done
    [missed] session missed
    [period-finished] end of a period
    [battery-low] low battery
    [monitor-silent] silent monitor
    [listener-silent] silent listener
    [backup-due] old backup
    [after-birth] end of the levels of pregnancy
    [delivery-stuck] nothing reaches the clinic’s server
    [check-due] monitor to be checked
   *[daemon-deaf] no reception
}
told-subject-test = Test: quietcuff reaches you
told-test = This is a test. Nothing happened, and there is nothing to do.
calendar-session = Blood pressure, { $slot ->
    [morning] morning
   *[evening] evening
} ({ $who })

## Whose it is, and who changed it

error-changed = Somebody else changed this meanwhile, so nothing of yours was kept. Go back, load the page anew, and look at what is so now.
versions-title = Somebody else changed this while your form was open
versions-say = Nothing of yours was kept yet.
versions-begun = When you began
versions-now = Now
versions-yours = Yours
versions-below = The form below holds what is so now, with your changes on top. Look at it, and save it if it is right.
number-title = Hand a number to somebody
number-which = Number on the monitor
number-none = without a number
number-whose = Whose it is
number-nobody = Nobody
number-from = From when on
number-from-now = from now on
number-from-moment = from a moment on
number-from-beginning = from the beginning
number-until = Until when, if that is known
number-back = Handed back
number-save = Hand over
number-confirm-title = This number is somebody’s
number-confirm-say = Nothing was changed yet.
number-moves-nobody = { $count ->
    [0] No reading of { $from } would move; what comes from then on would be nobody’s.
    [one] One reading of { $from } would be nobody’s.
   *[other] { $count } readings of { $from } would be nobody’s.
}
number-moves-doubted = { $count ->
    [one] One of them would be nobody’s: it may be from before the number changed hands, or from after that.
   *[other] { $count } of them would be nobody’s: each may be from before the number changed hands, or from after that.
}
number-confirm = Yes, hand it over
number-keep = Leave it as it is
title-reading = One reading
reading-time-unknown = unknown
reading-received = Received
reading-nobodys = nobody’s yet
reading-assigned = somebody said so
reading-discarded = Not averaged, because
reading-give = Whose was this?
reading-take-back-whose = Take back what was said of whose it is
reading-take-back-discard = Average it after all
answers-title = Answered last
number-moves = { $count ->
    [0] No reading of { $from } would move; what comes from then on would be { $to }’s.
    [one] One reading of { $from } would be { $to }’s.
   *[other] { $count } readings of { $from } would be { $to }’s.
}

## Whether anybody listens

page-as-of = As of { $moment }.
page-stale = This page is of { $moment }. Load it anew to see what is so now.
listening-not-running = No reading arrives: the program that listens does not run. A monitor with a memory keeps its readings. On the server, quietcuff check says what to do.
listening-no-answer = No reading arrives: the program that listens does not answer. Start it anew on the server.
listening-no-bluetooth = No reading arrives: the server’s Bluetooth does not run. On the server, quietcuff check says what to do.
listening-no-adapter = No reading arrives: the server has no Bluetooth adapter. Plug one in.
listening-off = No reading arrives: the server’s Bluetooth adapter is off.
listening-radio = No reading arrives: { $detail }.
listening-disk = Readings cannot be kept: { $detail }.
listening-clock = The server’s clock is not known to be right. Times on this page may be wrong until it has the time from the network.
listening-silent = Monitor { $detail } has been silent for longer than is its habit. If somebody measured, bring it near the server and look at its batteries. If nobody did, there is nothing to do.
listening-listener-silent = The listener { $detail } is not heard, so readings from its room do not arrive. See that it is plugged in and that the network there works. While it has power, it keeps what it hears and sends it later.
listening-listener-apart = The listener { $detail } calls, but its program and this server’s are too far apart to understand each other, so readings from its room do not arrive. Bring both to the same version. It keeps what it hears and sends it then.
listening-door-shut = Readings from other rooms do not arrive: the program on the server that takes them in does not run. The listeners keep them. Start it on the server.
listening-delivery = Readings do not reach the clinic’s server: { $detail }. They are kept here.
listening-not-delivering = Readings wait to go to the clinic’s server: the program that delivers does not run. They are kept here. Start it on the server.
after-birth-ended = Eight weeks have passed since the birth. From { $date } on the general levels hold, and no longer those of pregnancy: a reading is called very high from a higher number than before. If a clinic or a midwife still watches the pressure, ask them which levels hold.
listening-since = Since { $moment }.
listening-since-unknown = Nobody knows since when.

## The terminal

shape-marked = marked: counted, with something to know
shape-set-aside = set aside: kept and listed, not averaged
column-who = Who
column-pressure = Pressure
column-id = Id
column-sessions = Part of the day, and what counts
times-unknown = Nobody knows when they were taken; when they came
time-unknown-received = nobody knows when, received { $moment }
session-counts = { $counted } of { $wanted } readings count
session-counts-taken = { $counted } of { $wanted } readings count, { $taken } taken
session-open = more may come
session-short = too few
session-apart = the first two differ
session-irregular = irregular pulse reported
nothing-such = { $what ->
    [readings] there is no such reading
   *[sessions] there is no such session
}; without { $options } all there are would be listed
nothing-without-monitor = { $what ->
    [readings] there is no reading yet
   *[sessions] there is no session yet
}; { $command } pairs a monitor, and what it measures comes by itself
nothing-yet = { $what ->
    [readings] there is no reading yet
   *[sessions] there is no session yet
}: measure, while { $listens } listens; { $says } says whether it does
nothing-begun = no period was begun; { $command } begins one today
nothing-changed = no change of medicine of { $who } was noted; { $command } notes one
nothing-enrolled = no monitor is enrolled; { $command } lists what is in range
nothing-added = nobody has been added yet; { $command } does it
nothing-noted = nothing was noted; { $command } notes a coffee, for example
summary-heading = { $who }, { $days }: { $title }
summary-no-average = No average yet: { $there }. Fewer would say too little.
summary-pulse = Pulse a minute
summary-caution = An average is not a diagnosis. What it means is for your clinic to say.
summary-cautions = Symptoms come first, whatever the numbers say. Do not start, stop or change a medicine because of an average. A program that is off, or a radio that fails, raises no alarm.
summary-more = { $command } shows the reasons, the spread and a plot.
summary-assign = { $command } says whose.
summary-widened = If each day resembled the one before it with a correlation of { $correlation }, which nobody has measured here, the 95 % interval would be { $systolic } systolic and { $diastolic } diastolic.
plot-wedges = Pointing down: systolic. Pointing up: diastolic.
plot-column = Each column is { $days ->
    [1] a day
    [7] a week
    [28] four weeks
   *[other] { $days } days
}: ▼ mean systolic, ▲ mean diastolic.
plot-column-spread = │ from the lowest to the highest that count. Not drawn: { $n } set aside.
period-is-running = running
period-is-over = over
earlier-say = Behind each earlier average: the last one minus it, with its 95 % interval. Of twenty such intervals one leaves out the truth by chance alone.
earlier-difference = The last one minus this: { $systolic } systolic, { $diastolic } diastolic.
changes-before = Before
changes-after = From { $day } on
changes-difference = After minus before
changes-not-compared = Not compared
changes-same = the days do not vary
changes-no-reading = no reading
changes-by = { $systolic } systolic, { $diastolic } diastolic
changes-say = Before: up to { $days } days. After: as many, once the protocol’s waiting time is over; the days between are settling and are left out, and no side reaches over another change. Behind them: after minus before, with its 95 % interval. That one came after the other does not say that it came from it.
trace-no-reading = No reading was made of this frame.
trace-stamp = its stamp says { $stamp }
trace-no-stamp = no stamp
trace-averaged = in the average
trace-not-averaged = not in the average
trace-frame = Frame { $number }, received { $moment }, from { $monitor }, connection { $connection }, characteristic { $characteristic }
trace-frame-overheard = Frame { $number }, overheard by the second ear { $moment }, from { $monitor }, connection { $connection }, characteristic { $characteristic }
trace-heard-by = heard by listener { $listener } { $label }
trace-time-told = received { $moment } by the record’s clock, to within { $seconds } s: the machine that heard it had no time of its own
trace-sum = { $sum } mmHg in all, by { $n } readings: { $mean }
explain-counted = Counted. It goes into the average, and nothing speaks against it.
explain-apart = Marked. It is kept apart: it goes into no protocol’s average, and into a mean of its own kind.
explain-marked = Marked. It goes into the average of its session, with something to know.
explain-set-aside = Set aside. It is kept and listed, and does not go into the average.
explain-own-words = Their own words: { $text }
explain-strict = These faults alone would only mark it. They set it aside because this person’s readings are judged strictly.
explain-ignored = Ignored: the monitor reported { $flag }, and says of itself that it does not look for that.
explain-mean = Dropped: the mean arterial pressure of { $mean } does not lie between the other two. They stand without it.
explain-minute = Its stamp has whole minutes only, which cannot prove that it was taken too soon after another.
status-adapter = Adapter
status-radio = Radio
status-journal = Journal
status-ear = Second ear
status-listening = listening
status-way = monitors are linked { $way ->
    [direct] directly
   *[bluez] by BlueZ
}: { $why }
status-linked = , linked { $way ->
    [direct] directly
   *[bluez] by BlueZ
}
status-frames = { $n ->
    [one] { $n } frame
   *[other] { $n } frames
} since the start
status-frames-last = { $n ->
    [one] { $n } frame
   *[other] { $n } frames
} since the start, the last { $moment }
status-heard = { $address }, last heard { $moment }
status-not-heard = { $address }, not heard since the start
status-listener = listener “{ $label }”, last heard { $moment }
status-listener-never = listener “{ $label }”, never heard yet
status-listener-waits = { $n ->
    [one] 1 frame waited there
   *[other] { $n } frames waited there
}
status-listener-clock = its clock is not known to be right
status-listener-clock-told = this machine tells it the time, to within { $seconds } s
status-listener-clock-apart = its clock is { $seconds } s { $where ->
    [behind] behind
   *[ahead] ahead of
} this machine’s
status-listener-apart = it called { $moment } and was refused: it runs version { $theirs }, and this machine { $ours }; bring both to the same version, it keeps what it hears
status-listener-version = version { $version }
status-listener-disk = { $mb } MB free on its disk
status-listener-battery = battery of { $monitor }: { $level } %
status-door-shut = the program here that takes in what it sends does not run
status-not-direct = not directly: { $why }
status-users = { $n ->
    [one] readings of its user { $users }
   *[other] readings of its users { $users }
}, with consent
ear-alone = { $n ->
    [one] one reading was heard by it alone
   *[other] { $n } readings were heard by it alone
}
ear-alone-unknown = the journal does not say what it heard alone
ear-off = off
ear-listening = { $n ->
    [one] listening, { $n } measurement
   *[other] listening, { $n } measurements
} since its start
ear-left = { $n ->
    [one] { $n } indication was no measurement, or at a handle that it does not know
   *[other] { $n } indications were no measurement, or at a handle that it does not know
}
people-user = user { $number } of { $monitor }
people-usual = usual person of { $monitor }
deliver-clinic = Clinic
deliver-resources = Resources
deliver-messages = Messages
deliver-counts = { $sent } sent, { $waiting } waiting, { $refused } refused
deliver-contact = Last contact
deliver-problem = Problem
deliver-not-before = not before { $moment } again
deliver-refused = Refused
deliver-retry = { $one } or { $all } lets them be sent again
deliver-held = Held back
deliver-held-of = { $n } of { $who }: { $why }
release-title = Released to the clinic
release-all = everything that is measured
release-from = what is measured from { $from } on
release-until = what is measured up to { $until }
release-days = what is measured from { $from } to { $until }
release-said = { $what }; said by { $who }, { $moment }
release-said-unnamed = { $what }; said { $moment }
release-withdrawn = withdrawn by { $who }, { $moment }
release-withdrawn-unnamed = withdrawn { $moment }
release-unstated = nobody has said so; it goes because the configuration names them
release-missing = nobody has said so, and nothing goes until somebody does
release-outside = not of the days that were released: { $what }
release-not-chosen = the configuration does not name them, so nothing goes
release-waits = { $n ->
    [one] 1 reading waits, because no release covers it
   *[other] { $n } readings wait, because no release covers them
}
release-say = Measurements of these days go to { $clinic }, with the averages of periods that lie in them whole. Once this is withdrawn, nothing new or corrected goes. What is there already stays there; what was wrong is still withdrawn there.
release-give = Release these days
release-take-back = Withdraw what was released
release-first = First day; left empty: from the beginning
release-last = Last day; left empty: without an end
opening-title = Record at the clinic
opening-never = Not open: nothing goes there.
opening-since = Open since { $moment }
opening-taken = The clinic last took this household’s key { $moment }. That it has taken it back shows when something is next delivered.
opening-refused = Nothing goes there: since { $moment } the clinic has not taken this household’s key any more. It has run out, or was taken back there. If that was not meant, open the record anew.
opening-closed = Closed { $moment }
opening-unreadable = How it stands cannot be read. The page’s log says why.
opening-as = Called there
opening-may = What the clinic allowed
opening-say = At { $clinic } you sign in on the clinic’s own page, and say there that this household may write readings into this one record. The clinic’s password is typed there and nowhere else.
opening-open = Open the record
opening-again = Open it anew
opening-close = Close the record
opening-close-say = Once it is closed, nothing more goes there, and the clinic is asked to take its key back. What is there already stays there.
opening-came = The clinic’s answer has come.
opening-on = Go on
opening-asking = The clinic’s server is being asked.
opening-go = Go to the clinic’s page
opening-back-say = Afterwards the clinic leads you back here.
opening-not-back = It did not lead back here
opening-paste-say = At the end the browser stands at an address that begins with { $address }, also where it shows no page. Copy the whole address and put it in here.
opening-paste = The whole address
opening-take = Take it
opening-missed = That is not the answer to what was begun here. Take the whole address at which the browser ended, or open the record anew.
opening-taking = The clinic’s answer is being taken.
opening-done = The record is open. What is released to the clinic goes there.
opening-closing = The record is being closed.
opening-closed-there = The record is closed: nothing more goes there, and the key to it is taken back. What is there already stays there.
opening-closed-here = Nothing more goes there, and the key is forgotten here. Tell the clinic to close what it opened: { $why }
opening-elsewhere = Somebody is opening or closing this record in another browser.
opening-no-role = The program that delivers to the clinic does not run, so no record can be opened or closed here. Start it on the server.
opening-declined = The record was not opened: you, or the clinic, said no on the clinic’s page.
opening-failed = { $fault ->
    [refused] The clinic does not let this household in: { $why }
    [server] The clinic’s server does not answer as it should: { $why }
    [lacking] The clinic’s server lacks what this needs: { $why }
   *[here] Something has to be mended here first: { $why }
}
remind-kind = { $kind ->
    [urgent] reading that must not wait
    [session-due] session due
    [half-done] session half done
    [missed] session missed
    [period-finished] end of a period
    [battery-low] low battery
    [monitor-silent] silent monitor
    [listener-silent] silent listener
    [backup-due] old backup
    [after-birth] end of the levels of pregnancy
    [delivery-stuck] nothing reaches the clinic’s server
    [check-due] monitor to be checked
    [daemon-deaf] no reception
   *[other] something else
}
remind-told = { $what }, by “{ $route }”
remind-state = { $state ->
    [due] due
    [sent] told
    [pending] waits
    [being-sent] being told
    [lapsed] not told in time
   *[dropped] not worth telling any more
}
nothing-due = nothing is due, and nobody was told anything in the last days

## What home automation shows, each as the name of one value

entity-collector = Receives readings
entity-monitor = Monitor { $monitor }
entity-systolic = Systolic
entity-diastolic = Diastolic
entity-pulse = Pulse
entity-measured-at = Measured at
entity-average-systolic = Average, systolic
entity-average-diastolic = Average, diastolic
entity-session = Session
entity-urgent = Must not wait
entity-battery = Battery
entity-last-heard = Last heard
