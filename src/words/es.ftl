# Spanish, with formal address. The same messages and variables as `en.ftl`.
# Unreviewed: no native speaker has read these words yet. The page's foot says so; `words.rs` holds which are.

## Dates and numbers

month-1 = enero
month-2 = febrero
month-3 = marzo
month-4 = abril
month-5 = mayo
month-6 = junio
month-7 = julio
month-8 = agosto
month-9 = septiembre
month-10 = octubre
month-11 = noviembre
month-12 = diciembre
weekday-1 = lunes
weekday-2 = martes
weekday-3 = miércoles
weekday-4 = jueves
weekday-5 = viernes
weekday-6 = sábado
weekday-7 = domingo
weekday-short-1 = lun
weekday-short-2 = mar
weekday-short-3 = mié
weekday-short-4 = jue
weekday-short-5 = vie
weekday-short-6 = sáb
weekday-short-7 = dom
month-short-1 = ene
month-short-2 = feb
month-short-3 = mar
month-short-4 = abr
month-short-5 = may
month-short-6 = jun
month-short-7 = jul
month-short-8 = ago
month-short-9 = sept
month-short-10 = oct
month-short-11 = nov
month-short-12 = dic
date = { $weekday }, { $day } de { $month }
date-with-year = { $day } de { $month } de { $year }
month-of-year = { $month } de { $year }
today = hoy
tomorrow = mañana
yesterday = ayer
on-day = el { $date }
moment = { $date }, { $time }
range-of-days = del { $from } al { $to }
slot-morning = mañana
slot-evening = tarde
slot-other = otra hora
decimal-mark = ,

## The frame of every page

app = quietcuff
skip = Ir al contenido
pages = Páginas
nav-now = Ahora
nav-household = Todos, hoy
nav-week = Estos días
nav-earlier = Antes
nav-sheet = Para el médico
nav-notes = Notas
nav-questions = Por responder
nav-monitors = Tensiómetros
nav-people = Personas
nav-set-up = Preparar una vez
whose-page = De quién
everybody = Todos
language-name = Español
unreviewed = Ninguna persona que tenga el español como lengua materna ha revisado todavía estas palabras. En caso de duda valen las inglesas.
leave = Salir de esta página
not-an-alarm = Esta página no es una alarma: un programa apagado, o una radio que falla, no avisa a nadie. Los síntomas van primero, digan lo que digan los números. No da diagnósticos y no aconseja ningún medicamento.
read-only = Aquí puede verlo todo y no cambiar nada.
nobody-yet = Todavía no hay nadie. Añada una persona y un tensiómetro, en el orden que quiera.
connection-lost = El servidor no responde desde las { $time }. Lo que ve puede ser antiguo.
no-script = Esta página se renueva cada pocos segundos.
aloud = Tono y voz
aloud-asleep = Toque la página una vez: hasta entonces este navegador no deja oír nada.
aloud-no-voice = Este navegador no tiene voz propia para { $language }: solo suena el tono.
awake = Mantener la pantalla encendida mientras alguien mide

## Now: what to do next

title-now = Ahora
step-rest = Siéntese y descanse
step-rest-say = Cinco minutos, con calma. Después pulse el botón del tensiómetro.
step-rest-wait = Espere hasta las { $time }
step-rest-wait-say = Entonces habrá pasado media hora desde lo que anotó. Después descanse cinco minutos y mida.
step-rest-slot = Toca la sesión de la { $slot }.
step-rest-again = La última acabó con { $counted } de { $wanted } mediciones. Empiece otra vez, o déjelo por hoy.
step-resting = Descanse
step-resting-say = Quédese quieto, respire y no hable. Después viene la primera medición.
step-rested = Pulse el botón
step-rested-say = Han pasado los cinco minutos. Haga ahora la primera medición.
step-measuring = No se mueva
step-measuring-say = No hable. Deje el brazo apoyado.
cuff-rising = La presión del manguito sube
cuff-falling = La presión del manguito baja
cuff-pressure = Presión del manguito
step-wait = Espere
step-wait-second = Deje puesto el manguito. Ahora viene la segunda medición.
step-wait-third = Deje puesto el manguito. Ahora viene una tercera medición: las dos primeras se separan más de { $limit } mmHg.
step-wait-more = Deje puesto el manguito. Ahora viene la medición { $number } de { $wanted }.
step-second = Pulse el botón
step-second-say = Haga ahora la segunda medición.
step-third = Pulse el botón
step-third-say = Haga ahora una tercera medición: las dos primeras se separan más de { $limit } mmHg.
step-more-say = Haga ahora la medición { $number } de { $wanted }.
step-repeat = Mida otra vez
step-repeat-wait = Espere y mida otra vez
step-repeat-say = La última medición se apartó y no entra en el promedio.
step-done = Listo
step-done-say = Quítese el manguito.
step-done-between = La sesión de la { $slot } está completa.
step-not-due = Ahora no hay nada que hacer
step-not-due-say = Si mide de todos modos, la medición se guarda.
step-over = Estos días han terminado
days-begin = Los días empiezan { $day }.
coming = Próxima sesión: { $day } desde las { $time } (sesión de la { $slot }).
coming-none = No hay ninguna otra sesión prevista.
help-again = Mida otra vez
help-wait = Siéntese con calma
help-today = Llame hoy a su centro de salud
help-now = Llame ya a su centro de salud
help-emergency = Llame ahora al número de emer{"\u00AD"}gencias
help-low = Siéntese o túmbese
help-ask = ¿Es algo de esto?
help-tell = Algo para su centro de salud
then-otherwise = Después: { $step }
start-rest = Descansar cinco minutos
stop-rest = Parar el descanso
last-reading = Última medición
readings-so-far = Mediciones de esta sesión
pulse = pulso { $pulse }
set-aside = apartada
marked = cuenta, con un aviso
counted = cuenta
good = Lo que estuvo bien
good-two = { $n } mediciones con un minuto o más entre ellas
good-alone = Todas cuentan
good-nothing-noted = No hay nada que corregir en ellas
change = Para la próxima vez
change-nothing = Nada. Hágalo otra vez igual.
feel-unwell = Me siento mal
call = Llamar: { $who }
turn-next = Después: { $who }
since-moment = Desde: { $moment }.
answer-title = ¿Qué se hizo?
answer-say = Esto queda aquí hasta que alguien diga qué se hizo, o hasta que mediciones posteriores lo aclaren.
answer-called-emergency = Se llamó al número de emergencias
answer-contacted-clinic = Se llamó al centro de salud o al servicio médico de guardia
answer-looked-after = Se atendió; no se llamó a nadie
undelivered = Un mensaje que no puede esperar no se ha podido entregar por «{ $route }» (desde: { $moment }). Avise usted mismo.
nobodys-say = Decir de quién era
unwell-title = Qué hacer ahora
unwell-kept = Anotado a las { $time }.
unwell-not-kept = NO se anotó, así que nadie más lo sabrá: { $why }
unwell-why-form = el formulario no vino de esta página, o la página era demasiado antigua.
unwell-why-key = su clave no permite esto.
unwell-why-journal = ahora mismo no se puede escribir en el registro.
unwell-why-person = no se conoce a nadie con ese nombre.
unwell-again = Anotarlo otra vez
unwell-next = Al paso siguiente
technique = Cómo sentarse
technique-1 = Vejiga vacía
technique-2 = Espalda apoyada
technique-3 = Pies planos en el suelo
technique-4 = Piernas sin cruzar
technique-5 = Brazo en la mesa, a la altura del corazón
technique-6 = Manguito sobre el brazo desnudo
technique-7 = Sin hablar
posture-1 = Dibujo: un inodoro
posture-2 = Dibujo: alguien sentado a la mesa, con la espalda contra el respaldo
posture-3 = Dibujo: las plantas de los pies planas en el suelo
posture-4 = Dibujo: dos piernas, una al lado de la otra
posture-5 = Dibujo: el antebrazo sobre la mesa, el manguito a la altura del corazón
posture-6 = Dibujo: un manguito sobre el brazo desnudo, la manga subida
posture-7 = Dibujo: un bocadillo de diálogo tachado
elapsed = Tiempo que ha pasado
cuff-column = Una columna en un tubo: { $pressure } { $unit }, en una escala de 0 a { $most }
source-of = Fuente: { $source }

## What must not wait; the limits and the words are those of the guidelines named with them

alert-very-high-measure-again = Una medición es muy alta. Siéntese 5 minutos con calma y mida otra vez. Si la máxima sigue en { $systolic } o más, o la mínima en { $diastolic } o más, llame hoy a su centro de salud o al servicio médico de guardia.
alert-very-high-contact-today = Se midió otra vez y sigue muy alta. Llame hoy a su centro de salud o al servicio médico de guardia.
alert-very-high-emergency = Una medición es muy alta y se anotaron síntomas. Llame ahora al número de emergencias. No espere a ver si la tensión baja.
alert-very-high-tell-clinic = Después de una medición muy alta hubo mediciones claramente más bajas. Todas están en el informe para su centro de salud.
alert-very-high-in-pregnancy-contact-now = Una medición es muy alta. Llame ahora a su maternidad o a su centro de salud, y mida otra vez a los 15 minutos. Si la máxima sigue en { $systolic } o más, o la mínima en { $diastolic } o más, es una emergencia.
alert-very-high-in-pregnancy-emergency = Esto es muy alto, y continúa o se anotaron síntomas. Llame ahora al número de emergencias. No espere a ver si la tensión baja.
alert-very-high-in-pregnancy-tell-clinic = Después de una medición muy alta hubo mediciones claramente más bajas. Todas están en el informe para su centro de salud.
alert-high-in-pregnancy-measure-again = Una medición es alta para el embarazo y las semanas después del parto. Siéntese con calma y mida otra vez a los 15 minutos. Si la máxima sigue en { $systolic } o más, o la mínima en { $diastolic } o más, llame hoy a su maternidad o a su centro de salud.
alert-high-in-pregnancy-contact-today = Se midió otra vez y sigue alta para el embarazo y las semanas después del parto. Llame hoy a su maternidad o a su centro de salud.
alert-high-in-pregnancy-contact-now = Esto es alto para el embarazo y las semanas después del parto, y se anotaron síntomas. Llame ahora a su maternidad o a su centro de salud.
alert-very-low-measure-again = Una medición es muy baja. Siéntese o túmbese y mida otra vez a los 5 minutos. Si sigue por debajo de { $systolic }, o si siente que se desmaya, mareo o malestar, llame ahora a su centro de salud o al servicio médico de guardia.
alert-very-low-contact-now = Esto es muy bajo, y se midió otra vez o se anotaron síntomas. Siéntese o túmbese, y llame ahora a su centro de salud o al servicio médico de guardia.
alert-low-measure-again = Una medición es baja. Siéntese o túmbese y mida otra vez a los 5 minutos. Si siente que se desmaya, mareo o malestar, llame hoy a su centro de salud o al servicio médico de guardia.
alert-low-tell-clinic = Se midió otra vez y sigue baja. Si se siente bien, dígaselo a su centro de salud en la próxima visita. Si siente que se desmaya, mareo o malestar, siéntese o túmbese y anótelo aquí.
alert-low-contact-today = Esto es bajo, y se anotaron síntomas. Siéntese o túmbese, y llame hoy a su centro de salud o al servicio médico de guardia.
alert-pulse-contact-now = El pulso de esta medición es muy { $speed ->
    [slow] lento
   *[fast] rápido
}: { $pulse }. Llame ahora a su centro de salud o al servicio médico de guardia. Si se desmaya, hay que llamar al número de emergencias.
alert-pulse-note = El pulso de esta medición es { $speed ->
    [slow] lento
   *[fast] rápido
}: { $pulse }. Dígaselo a su centro de salud si sigue así, y enseguida si se siente mal.
alert-symptoms-emergency = Los síntomas van primero, digan lo que digan los números. Con los síntomas anotados, llame ahora al número de emergencias.
alert-symptoms-contact-now = Los síntomas van primero, digan lo que digan los números. Con los síntomas anotados, llame ahora a su centro de salud, a su maternidad o al servicio médico de guardia.
alert-symptoms-contact-today = Los síntomas van primero, digan lo que digan los números. Si siente que se desmaya, mareo o malestar, siéntese o túmbese, y llame hoy a su centro de salud o al servicio médico de guardia.
alert-symptoms-ask = Se anotaron palabras que no están en la lista. ¿Es uno de estos síntomas?
alert-irregular-pulse = El tensiómetro señaló un pulso irregular en varias sesiones. Dígaselo a su centro de salud; solo un electrocardiograma muestra qué es.
emergency-if = Si tiene dolor en el pecho, falta de aire, la cara caída, debilidad o entumecimiento repentinos, dificultad para hablar, pérdida de la vista, confusión, una convulsión, dolor fuerte de cabeza o de espalda, o si se desmaya, llame ahora al número de emergencias.
pregnancy-if = Con dolor de cabeza fuerte, vista borrosa o destellos, dolor fuerte justo debajo de las costillas, vómitos, o hinchazón repentina de cara, manos o pies, llame enseguida a su maternidad, digan lo que digan los números.
no-extra-medicine = No tome ningún medicamento de más por una medición.

## These days: the period, day by day

title-week = Estos días
period-line = Van { $days }, con el protocolo { $protocol }.
period-day = Día { $day } de { $days }
column-day = Día
average = Promedio
average-exact = Con un decimal { $average },
mean-mornings = Mañanas { $mean }, { $n ->
    [one] { $n } medición
   *[other] { $n } mediciones
}
mean-evenings = Tardes { $mean }, { $n ->
    [one] { $n } medición
   *[other] { $n } mediciones
}
progress = Sesiones de estos días
place-complete = completa
place-begun = empezada, no completa
place-missed = no hubo
place-due = toca ahora
place-to-come = por venir
picture-title = Mediciones de { $who }, { $days }
picture-readings = { $counted } cuentan, { $marked } cuentan con un aviso, { $aside } apartadas. La tabla tiene todos los valores.
picture-readings-say = Cada trazo es una medición, de la máxima a la mínima, en mmHg. En cada día, la mañana está a la izquierda y la tarde a la derecha. Líneas discontinuas: el nivel con el que se compara el promedio.
picture-points = Promedios de { $n ->
    [one] { $every ->
        [day] un día
        [week] una semana
       *[month] un mes
    }
   *[other] { $n } { $every ->
        [day] días
        [week] semanas
       *[month] meses
    }
}, el primero { $first }, el último { $last } mmHg. Mediciones en el centro de salud: { $clinic }. Cambios de medicamento: { $changes }.
picture-points-say = Cada par de puntos es el promedio de { $every ->
    [day] un día
    [week] una semana
   *[month] un mes
}, máxima y mínima, en mmHg; la línea que pasa por un punto va de la medición más baja a la más alta. Un punto abierto tiene mediciones en menos de tres días.
not-begun = Todavía no ha empezado
not-begun-say = Los días empiezan cuando usted lo diga. Hasta entonces no falta nada, y toda medición que llegue se guarda.
period-over = Estos días han terminado.
period-over-next = Lleve el informe a su centro de salud. Empiece otra vez cuando se lo pidan.
sheet-open-week = El informe para el médico
title-household = Todos, hoy
household-waiting = { $n ->
    [one] { $n } pregunta espera respuesta.
   *[other] { $n } preguntas esperan respuesta.
}
household-missed = { $n ->
    [0] No falta ninguna sesión de estos días.
    [one] Falta { $n } sesión de estos días.
   *[other] Faltan { $n } sesiones de estos días.
}
household-average = Promedio { $average } mmHg
household-before = Antes { $average } mmHg
household-last = Última medición: { $moment }
household-told = A quién se avisó
household-told-what = { $kind ->
    [urgent] Medición o síntomas que no pueden esperar
    [session-due] Toca una sesión
    [half-done] Una sesión está a medias
    [missed] Faltó una sesión
    [period-finished] Los días han terminado
    [after-birth] Los niveles del embarazo han terminado
   *[other] Otra cosa
}, por «{ $route }», { $moment }: { $standing ->
    [sent] avisado
   *[not-sent] sin avisar
}
average-of = { $n ->
    [one] de { $n } medición
   *[other] de { $n } mediciones
} en { $days ->
    [one] { $days } día
   *[other] { $days } días
}
average-interval = Muy probablemente { $systolic } de sistólica y { $diastolic } de diastólica.
interval-range = { $low } a { $high }
average-not-yet = Todavía no hay promedio
average-not-yet-say = El promedio se muestra cuando hay mediciones suficientes para fiarse de él. Hasta ahora hay { $sessions } de { $expected } sesiones.
threshold-line = Comparado con { $systolic }/{ $diastolic } mmHg ({ $source }): el promedio está { $where ->
    [above] en ese nivel o por encima. Solo un médico puede decir qué significa.
   *[below] por debajo.
}
target-by = Elegido por { $said }.
target-source = Fuente: { $said }.
target-line = El objetivo de su centro de salud es menos de { $systolic }/{ $diastolic } mmHg: el promedio { $where ->
    [below] está por debajo.
   *[not-below] no está por debajo.
}
superseded-by = Este protocolo fue sustituido por { $by }.
labels-off = A esta persona no se le aplica ningún límite.
caution-average = Esto es un promedio, no un diagnóstico. No empiece, deje ni cambie ningún medicamento por él.
session-missed = no hubo
session-to-come = por venir
session-due = toca ahora
sessions-there = { $sessions } de { $expected } sesiones
readings-set-aside = { $n ->
    [0] No se apartó ninguna medición.
    [one] Se apartó { $n } medición; está en la tabla con su motivo.
   *[other] Se apartaron { $n } mediciones; están en la tabla con sus motivos.
}
medicine-changed-within = Se cambió un medicamento en estos días ({ $days }): el promedio mezcla el antes y el después.
balance-even = { $mornings } mañanas y { $evenings } tardes.
balance-uneven = Sin equilibrio: { $mornings } mañanas y { $evenings } tardes; un promedio equilibrado tiene al menos { $mornings-min } mañanas y { $evenings-min } tardes.
balance-sittings = Con el mismo peso para cada serie sería { $mean }.
interval-too-wide = Los días son muy pocos, o muy distintos, para decir cuánto puede desviarse
outside-sessions = { $n ->
    [one] { $n } medición está fuera de toda sesión y no entra en este promedio; con ella sería { $with }.
   *[other] { $n } mediciones están fuera de toda sesión y no entran en este promedio; con ellas sería { $with }.
}
shapes = Relleno: cuenta. Abierto: cuenta, con un aviso. Tachado: apartada, no entra en el promedio.
table-week = Mediciones en mmHg, sistólica sobre diastólica

## Earlier: every reading

title-earlier = Antes
table-earlier = Mediciones de { $month }, sistólica sobre diastólica
column-time = Hora
column-values = mmHg
column-pulse = Pulso
months = Meses
span = Cuánto se ve
span-year = Un año, semana a semana
span-all = Todos los años, mes a mes
picture-tap = Toque { $every ->
    [day] un día para abrirlo
    [week] una semana para abrirla
   *[month] un mes para abrirlo
}.
picture-clinic = Cruces, en el centro de salud: { $readings }.
picture-changes = Líneas verticales discontinuas, cambio de medicamento: { $days }.
table-parts = Lo mismo en una tabla, { $every ->
    [day] día a día
    [week] semana a semana
   *[month] mes a mes
}
column-from = Desde
column-readings = Mediciones
no-readings = No hay mediciones en este mes.
no-readings-yet = Todavía no ha llegado ninguna medición. La primera aparecerá aquí sola.
newer-month = Más nuevo: { $month }
older-month = Más antiguo: { $month }

## For the clinic

title-sheet = Para el médico
sheet-say = Una página que un médico lee en un minuto, y después todas las mediciones. Se hace en este momento y solo sale de esta casa con usted.
sheet-from = Primer día
sheet-days = Número de días
sheet-default = Si se deja vacío: el periodo en curso, o si no, el último.
sheet-open = Mostrarlo
sheet-pdf = PDF, A4
sheet-pdf-letter = PDF, carta de EE. UU.
sheet-none = Todavía no hay nada para un informe.

## Notes

title-notes = Notas
notes-say = Un toque, y queda anotado para este momento.
notes-when = Cuándo
notes-now = Ahora
notes-minutes = Hace { $n } minutos
notes-hour = Hace una hora
note-medicine = Medicamento tomado
note-medicine-changed = Medicamento cambiado
note-coffee = Café o té
note-smoking = Fumé
note-exercise = Ejercicio
note-alcohol = Bebida con alcohol
note-meal = Una comida
note-waking = Recién despertado
note-dinner = Cena
note-bed = Me acosté
note-symptoms = Síntomas
note-posture = Postura
note-full-bladder = Vejiga llena
note-no-rest = Sin descanso antes
note-talked = Hablé
note-over-clothing = Manguito sobre la ropa
notes-kind = Las próximas mediciones de esta serie se hacen
note-standing = De pie
note-lying = Tumbado
note-night = De noche, en la cama
note-seated = Sentado
kind-mean-standing = De pie: { $mean } mmHg, { $n ->
    [one] { $n } medición
   *[other] { $n } mediciones
}. No entra en el promedio.
kind-mean-lying = Tumbado: { $mean } mmHg, { $n ->
    [one] { $n } medición
   *[other] { $n } mediciones
}. No entra en el promedio.
kind-mean-night = De noche: { $mean } mmHg, { $n ->
    [one] { $n } medición
   *[other] { $n } mediciones
}. No entra en el promedio.
note-arm-left = Brazo izquierdo
note-arm-right = Brazo derecho
note-cuff = Otro manguito
note-clinic-reading = Medición en el centro de salud
note-monitor-dropped = Se cayó el tensiómetro
note-batteries-changed = Pilas nuevas
note-monitor-checked = Tensiómetro revisado
notes-symptoms = Cómo se siente
notes-day = El día
notes-measuring = Sobre la medición
notes-words = Con sus palabras
note-it = Anotar
noted-lately = Anotado hace poco
noted-none = Todavía no se ha anotado nada.
take-back = Retirar
symptom-chest-pain = dolor en el pecho
symptom-breathless = falta de aire
symptom-face-drooping = la cara caída de un lado
symptom-one-sided-weakness = debilidad o entumecimiento repentinos
symptom-speech = dificultad para hablar
symptom-sight-loss = pérdida repentina de la vista
symptom-confused = confusión
symptom-fainted = desmayo o colapso
symptom-seizure = una convulsión
symptom-cold-skin = piel fría, húmeda y pálida
symptom-severe-headache = dolor de cabeza fuerte
symptom-severe-pain = dolor fuerte de espalda o de vientre
symptom-rib-pain = dolor fuerte justo debajo de las costillas
symptom-swelling = hinchazón repentina de cara, manos o pies
symptom-vision = vista borrosa o destellos
symptom-vomiting = vómitos
symptom-dizzy = mareo o aturdimiento
symptom-sick = náuseas
symptom-weak = sensación de debilidad
symptom-none = nada de esto
something-else = Otra cosa
something-else-say = Sus palabras se guardan. Por sí solas no cambian ningún consejo.

## Waiting for an answer

title-questions = Por responder
questions-none = Nada espera respuesta.
question-whose = ¿De quién era?
question-when = ¿Cuándo fue?
question-whose-say = No se adivina de quién es. Hasta que usted lo diga, esta medición no entra en ningún promedio.
question-when-say = El reloj del tensiómetro no era de fiar. Recibida: { $moment }.
answer-time = Día y hora
answer-save = Fue entonces
answer-discard = No incluirla en el promedio
discarded-by-page = dicho en la página: no incluirla en el promedio
question-always = Todo lo que envía { $monitor } es de esta persona, lo anterior y lo posterior
question-always-user = Todo lo que envía { $monitor } como usuario { $number } es de esta persona, lo anterior y lo posterior
not-ours = De nadie de nosotros

## Monitors

title-monitors = Tensiómetros
backup-title = Copia de seguridad
backup-last = La última copia de seguridad buena es de: { $moment }.
backup-never = Todavía no se ha hecho ninguna copia de seguridad.
backup-old = Es antigua: lo medido después está en un solo disco.
backup-encrypted = Solo puede leerla quien tenga la clave privada.
backup-plain = No está cifrada: quien tenga el archivo puede leerla.
monitors-none = Todavía no hay ningún tensiómetro.
monitor-battery = Pilas
monitor-battery-level = { $level } %, dicho el { $date }
monitor-battery-unknown = No lo ha dicho.
monitor-heard = Oído por última vez
monitor-never = nunca
monitor-measurements = Mediciones
monitor-usual = De quién
monitor-user = número { $number }: { $person }
monitor-due = Por hacer
monitor-due-none = Nada.
monitor-due-on = { $task }, desde el { $date }
monitor-address = Dirección
monitor-clock = Reloj
monitor-clock-seen = { $seconds } s de { $where ->
    [behind] retraso
   *[ahead] adelanto
}, leído: { $moment }
monitor-clock-unread = Todavía no se ha leído. No todos los tensiómetros lo permiten.
monitor-clock-set = Poner su reloj en hora
monitor-clock-will = Su reloj se pondrá en hora la próxima vez que se conecte.
monitor-forget = Olvidar este tensiómetro
monitor-forget-say = Ya no se le escucha, y se borra su emparejamiento. Sus mediciones se quedan.
monitor-forget-do = Olvidarlo
monitor-bond-kept = Ya no se le escucha. No se pudo borrar su emparejamiento: { $why }
monitor-not-done = No se ha hecho: { $why }
monitor-nobody-listens = el programa que recibe no está en marcha en el servidor.
consent-title = Dar el código de un usuario
consent-say = Este tensiómetro separa a sus usuarios por un número y un código, y puede que no entregue mediciones antes de que el código se conozca aquí. Su manual dice dónde muestra ambos.
consent-none = Todavía no se guarda ningún código.
consent-kept = Se guarda un código del usuario { $number }. Se da en cada visita.
consent-waits = En su próxima visita se pedirá al tensiómetro que registre a un usuario nuevo.
consent-accepted = El tensiómetro aceptó el último código: { $moment }.
consent-wrong = El tensiómetro no aceptó el último código: { $moment }. Escríbalo otra vez.
consent-number = Número del usuario en el tensiómetro
consent-new = un usuario nuevo, con un código que usted elige
consent-code = Código, hasta cuatro cifras
consent-save = Guardar el código
consent-forget = Olvidar el código del usuario { $number }
consent-forget-new = No registrar a nadie
task-check = Hágalo revisar
task-change-batteries = Cambie las pilas
task-plan-replacement = Piense en el siguiente
task-replace = Cámbielo por otro
pair-title = Añadir un tensiómetro
pair-say = Ponga el tensiómetro en modo de emparejar y búsquelo aquí. Tarda hasta un minuto.
pair-look = Buscar tensiómetros
pair-looking = Buscando.
pair-found = Encontrados
pair-with = Emparejar con { $name }
pair-for = ¿De quién son las mediciones?
pair-passkey = Las seis cifras que muestra el tensiómetro
pair-passkey-show = Escriba esto en el tensiómetro: { $passkey }
pair-send = Enviarlas
pair-working = Emparejando. Deje el tensiómetro cerca.
pair-done = Emparejado y añadido como { $monitor }.
pair-failed = No se pudo emparejar: { $why }
pair-refused = No quiso emparejarse y no pidió ningún código. Póngalo en modo de emparejar y búsquelo otra vez.
pair-without-say = Si su manual dice que no se puede emparejar, se puede añadir sin hacerlo. Entonces cualquiera que esté cerca puede oír lo que envía o hacerse pasar por él.
pair-without = Añadirlo sin emparejar
pair-stop = Parar
pair-none = No se oyó ninguno. ¿Está en modo de emparejar y cerca?
pair-no-daemon = El programa que recibe no está en marcha, así que aquí no se puede emparejar ninguno. Póngalo en marcha en el servidor.

## People

title-people = Personas
person-add = Añadir una persona
person-change = Cambiar
person-save = Guardar
person-remove = Quitar de las listas
person-remove-say = Sus mediciones siguen siendo suyas. Desde entonces ningún número de un tensiómetro es suyo, y su clave no abre nada. La misma persona puede volver.
person-remove-do = Quitar a { $who } de las listas
person-removed = Quitados de las listas
person-again = { $who } vuelve
person-again-say = Solo si es la misma persona. Lo que se sabía de ella vale otra vez; sus números y sus claves se dan de nuevo.
person-strict = Estricto
person-strict-say = Lo que se contó, como café o hablar, aparta una medición, y no solo la marca
person-label = Cómo la llaman
person-from = de
person-to = a
person-usual = Si se deja vacío: { $from } a { $to }.
person-systolic = Sistólica
person-diastolic = Diastólica
person-threshold-say = Para el promedio en casa, si su centro de salud dio uno. Si se deja vacío: el de la guía.
person-target-by = Quién lo eligió
person-target-source = Dónde está escrito
person-target-say = Si su centro de salud eligió un objetivo. Si se deja vacío: ninguno. Quién lo eligió y dónde está escrito, como una carta del centro, figura a su lado en el informe.
person-conditions = Situaciones
person-conditions-say = Los límites para adultos no se hicieron para estas; entonces ningún promedio se compara con ellos.
condition-pregnancy = Embarazada, o en las ocho semanas después del parto
condition-atrial-fibrillation = Se sabe que tiene fibrilación auricular
condition-dialysis = Diálisis
arm-either = sin elegir
person-wrong-label = Dé un nombre de 1 a { $most } caracteres.
person-wrong-same = Ya hay alguien que se llama «{ $label }». Añada lo que los distingue.
person-wrong-invisible = Este nombre tiene un carácter que nadie ve. Escríbalo de nuevo.
person-wrong-alike = Este nombre se parece a «{ $label }», y alguien se llama ya así. Añada lo que los distingue.
person-wrong-born = Dé un año de nacimiento de { $first } a { $last }.
person-wrong-born-on = Dé el día de nacimiento como 1951-03-24, y ninguno que aún no haya llegado.
person-wrong-record-number = Un número de historia tiene como máximo { $most } caracteres visibles en una línea.
person-wrong-arm-cm = El contorno de un brazo mide de { $least } a { $most } centímetros.
person-wrong-number = Dé los años y los centímetros como números, por ejemplo 1951 o 31,5.
person-wrong-window = Dé un primer minuto y un último, o deje los dos vacíos.
person-wrong-overlap = La mañana y la tarde se cruzan a las { $time }. Termine una antes de que empiece la otra.
person-wrong-target = Dé los dos números del objetivo en mmHg: de 40 a 300, y uno menor de 20 a 200.
person-wrong-target-words = Diga quién eligió el objetivo y dónde está escrito.
person-wrong-target-line = Quién eligió el objetivo y dónde está escrito: de 1 a { $most } caracteres cada uno, todos visibles.
person-wrong-birth = Dé el día del parto, que no puede ser después de hoy.
person-wrong-threshold = Dé los dos números del límite en mmHg: de 40 a 300, y uno menor de 20 a 200.
person-gave-birth = Dio a luz el
person-gave-birth-until = { $born }: los niveles del embarazo terminan el { $ends }
person-gave-birth-say = Cuando haya nacido el niño: los niveles del embarazo valen ocho semanas desde ese día, y se avisa a la casa cuando terminan. Embarazada otra vez: márquelo de nuevo.
person-born = Año de nacimiento
person-born-ask = Nacimiento: un año, o el día como 1951-03-24
person-record-number = Número de historia
person-record-number-ask = Número de la historia en la consulta, si debe figurar en la hoja
person-arm = Brazo
arm-left = izquierdo
arm-right = derecho
person-arm-cm = Contorno del brazo
person-morning = Mañana
person-evening = Tarde
person-protocol = Protocolo
person-target = Objetivo de su centro de salud, por debajo del cual ha de estar el promedio
person-threshold = Límite de su centro de salud
person-period = Periodo
period-none = No se ha empezado ninguno.
period-running = { $from } a { $to }
period-start = Empezar hoy { $days } días
period-start-for = Empezar hoy { $days } días para { $who }
calls-title = A quién llamar
calls-say = Está en grande, para tocarlo, donde algo no puede esperar.
calls-change = Cambiar a quién llamar
calls-number = Número de emergencias de aquí, como 112
calls-contact = Número de alguien a quien avisar
calls-contact-name = Quién es
calls-back = Retirar lo que se dijo aquí
calls-before = Lo que se dijo antes
calls-taken-back = retirado
calls-nobody = Nadie todavía

## Keys and errors

title-key = Su clave
key-say = Esta página es para la casa. Escriba la clave que le dieron.
key-here = En la propia máquina, quietcuff keys link da un enlace que la abre una vez.
key-label = Clave
key-enter = Entrar
key-wrong = Esta clave no abre la página: está mal escrita, fue retirada o su tiempo ha terminado.
link-wrong = Este enlace no abre la página: sirve una vez y durante diez minutos. Haga uno nuevo.
key-slow = Demasiados intentos. Espere un minuto.
card-title = Presión arterial: la página de esta casa
card-code = Un código que lee una cámara: { $address }
card-1 = Apunte la cámara de la tableta al código y abra lo que muestra.
card-2 = Deje la página en la pantalla de inicio de la tableta.
card-3 = Póngala junto al tensiómetro, a dos metros de la silla como mucho. Dice qué hay que hacer.
card-with-key = Quien tiene esta tarjeta tiene la clave. En el servidor, quietcuff keys la retira.
card-only-here = Esta dirección lleva solo a este ordenador. Abra la página en otro e imprima allí la tarjeta.
card-key-say = Una tarjeta que abre la página sin teclear contiene una clave. En el servidor, esto hace una:
card-print = Una tarjeta para una tableta
error-title = No ha funcionado
error-not-found = Esa página no existe.
error-not-yours = Su clave no permite esto.
error-forged = El formulario es antiguo o no vino de esta página. Vuelva atrás, cargue la página de nuevo e inténtelo otra vez.
error-journal = Ahora mismo no se puede leer el registro. No se ha perdido nada; inténtelo otra vez en un minuto.
error-value = «{ $value }» no sirve aquí.
error-future = Ese momento no ha llegado todavía.
back = Volver al principio

## Reasons: why a reading is marked or set aside

reason-body-movement = El tensiómetro notó movimiento. No se mueva mientras trabaja el manguito.
reason-cuff-too-loose = El tensiómetro encontró el manguito demasiado flojo. Ajústelo de modo que quepan justo dos dedos debajo.
reason-improper-position = El tensiómetro encontró mal la posición. Apoye el manguito a la altura del corazón.
reason-irregular-pulse = El tensiómetro señaló un pulso irregular. Muéstrelo en su centro de salud si se repite.
reason-pulse-rate-above-range = El pulso era más rápido que el intervalo para el que está hecho el tensiómetro.
reason-pulse-rate-below-range = El pulso era más lento que el intervalo para el que está hecho el tensiómetro.
reason-no-value = El tensiómetro no pudo obtener un valor.
reason-impossible-value = Estos valores no pueden ser: la sistólica no es mayor que la diastólica, la sistólica está fuera de 40 a 300 o la diastólica fuera de 20 a 200 mmHg.
reason-unlikely-value = Estos valores son raros: la sistólica fuera de 60 a 230, la diastólica fuera de 40 a 130, una diferencia entre las dos fuera de 15 a 120 mmHg o un pulso fuera de 35 a 180.
reason-too-soon = Menos de un minuto después de la medición anterior. Espere un minuto entre mediciones.
reason-time-unknown = Nadie sabe cuándo se hizo. Diga cuándo y podrá entrar en el promedio.
reason-clock-fault = Para esta medición, el reloj del tensiómetro no es de fiar. Póngalo en hora.
reason-person-unknown = Nadie sabe de quién es. Diga de quién y podrá entrar en el promedio.
reason-discarded = Alguien de la casa pidió no incluirla en el promedio.
reason-outside-window = Hecha fuera de las horas de la mañana y de la tarde. Si toda su serie lo estuvo, no entra en el promedio.
reason-lone-reading = La única medición de su sesión que cuenta. Una sesión tiene dos.
reason-third-reading-missing = Tocaba una tercera medición y no llegó: las dos primeras se separan más de 10 mmHg, o las sesiones de esta persona tienen tres.
reason-wrist-monitor = Un tensiómetro de muñeca. Ponga la muñeca a la altura del corazón; es mejor uno de brazo.
reason-cuff-size = El contorno del brazo está fuera del intervalo impreso en el manguito. Use uno de su talla.
reason-not-validated = Nadie ha dicho que este modelo de tensiómetro esté validado. Búsquelo en la lista de su país.
reason-reported-coffee = Café menos de 30 minutos antes.
reason-reported-smoking = Tabaco menos de 30 minutos antes.
reason-reported-exercise = Ejercicio menos de 30 minutos antes.
reason-reported-alcohol = Bebida con alcohol menos de 30 minutos antes.
reason-reported-meal = Una comida menos de 30 minutos antes, o el desayuno antes de la medición de la mañana.
reason-reported-dinner = La cena antes de la medición de la tarde.
reason-reported-medicine = El medicamento antes de la medición de la mañana.
reason-reported-just-woken = Menos de 30 minutos después de despertar.
reason-reported-long-awake = Más de una hora después de despertar; este protocolo quiere la medición de la mañana dentro de esa hora.
reason-reported-long-before-bed = Más de una hora antes de acostarse; este protocolo quiere la medición de la tarde dentro de esa hora.
reason-reported-no-rest = Sin descanso antes de la medición. Siéntese primero 5 minutos con calma.
reason-reported-full-bladder = Vejiga llena.
reason-reported-talked = Se habló durante la medición.
reason-reported-over-clothing = El manguito estaba sobre la ropa, y eso puede cambiar la medición.
reason-reported-other-arm = No es el brazo elegido. Use siempre el mismo brazo.
reason-reported-legs-crossed = Piernas cruzadas.
reason-reported-back-unsupported = Espalda sin apoyar.
reason-reported-arm-unsupported = Brazo sin apoyar.
reason-reported-arm-low = Manguito por debajo de la altura del corazón.
reason-reported-fist-clenched = Puño cerrado.
reason-reported-posture = Otra postura que sentado con espalda, brazo y pies apoyados.
reason-reported-standing = Hecha de pie. No entra en el promedio; las mediciones de pie tienen su propia media.
reason-reported-lying = Hecha tumbado. No entra en el promedio; las mediciones tumbado tienen su propia media.
reason-reported-night = Hecha de noche en la cama. No entra en el promedio; las mediciones de noche tienen su propia media.

## What is told to those who do not look: reminders and alerts

told-not-an-alarm = quietcuff no es una alarma: un programa apagado, o una radio que falla, no avisa a nadie. No da diagnósticos y no aconseja ningún medicamento.
told-somebody = alguien de la casa
told-withheld = no se escribe aquí
told-reading-measured = Medida: { $moment }: { $systolic }/{ $diastolic } { $unit }.
told-reading-measured-withheld = Medida: { $moment }.
told-reading-received = Recibida: { $moment }: { $systolic }/{ $diastolic } { $unit }.
told-reading-received-withheld = Recibida: { $moment }.
told-reading-is-unknown = Nadie sabe cuándo se hizo.
told-reading-is-ahead = Su fecha va por delante del reloj, así que nadie sabe cuándo se hizo.
choice-very-high-in-pregnancy = las ocho semanas después del parto; llamar a alguien con la primera medición así
choice-high-in-pregnancy = medir primero otra vez; los 15 minutos en este nivel
choice-very-high = claramente más baja quiere decir 10 mmHg menos: dos mediciones de una serie se separan menos en 19 de 20 (desviación típica dentro de una serie 3,7 y 3,4, datos de encuesta)
choice-very-low = 80, por debajo de lo cual está menos de un adulto de cada mil (datos de encuesta); los 5 minutos
choice-low = medir primero otra vez; los 5 minutos; hoy
choice-pulse = que vale también fuera de una enfermedad aguda
choice-of = Ninguna fuente da esto: { $choice }.
told-reading-is-nobodys = Nadie ha dicho todavía de quién es la medición.
told-subject-urgent = { $who }: una medición que no puede esperar
told-subject-symptoms = { $who }: se anotaron síntomas
told-subject-session-due = { $who }: toca la sesión de la { $slot ->
    [morning] mañana
   *[evening] tarde
}
told-session-due = Siéntese 5 minutos con calma, con espalda, brazo y pies apoyados, y haga la primera medición. Hay tiempo hasta las { $time }.
told-subject-half-done = { $who }: cuentan { $counted } de { $wanted } mediciones de la sesión de la { $slot ->
    [morning] mañana
   *[evening] tarde
}
told-half-done-go-on = Deje puesto el manguito y haga ahora la siguiente medición.
told-half-done-again = Empiece la sesión otra vez: descanse 5 minutos y mida. Hay tiempo hasta las { $time }.
told-subject-missed = { $who }: no hubo sesión completa de la { $slot ->
    [morning] mañana
   *[evening] tarde
} ({ $day })
told-missed = { $counted ->
    [0] No cuenta ninguna medición.
    [one] Cuenta una medición.
   *[other] Cuentan { $counted } mediciones.
} Una medición que el tensiómetro guarde todavía llega con su próxima conexión. Si no, siga con la próxima sesión; no hay que recuperar nada.
told-subject-period-finished = { $who }: los días del { $from } al { $to } han terminado
told-average = Promedio { $average } mmHg, de { $n } mediciones en { $days } días; { $aside ->
    [0] no se apartó ninguna
    [one] se apartó una más
   *[other] se apartaron { $aside } más
}.
told-threshold = El nivel para comparar es { $systolic }/{ $diastolic } mmHg ({ $source }). Solo un médico puede decir qué significa para usted.
told-no-threshold = No se compara con ningún nivel. Solo un médico puede decir qué significa para usted.
told-average-withheld = Hay mediciones suficientes para un promedio.
told-average-too-few = No hay mediciones suficientes para un promedio: hubo { $sessions } de { $expected } sesiones. No se muestra ningún promedio.
told-sheet = El informe para el médico se puede hacer ya.
told-subject-battery-low = Tensiómetro { $monitor }: las pilas están al { $percent } %
told-battery-low = Cambie las pilas: unas pilas gastadas cortan una medición a la mitad.
told-subject-monitor-silent = Tensiómetro { $monitor }: no se oye desde { $moment }
told-monitor-silent = Si alguien ha medido desde entonces, acérquelo al servidor y mire sus pilas. Si no ha medido nadie, no hay nada que hacer.
told-subject-check-due = Tensiómetro { $monitor }: { $task }
told-check-due = Pendiente desde el { $date }.
told-subject-backup-due = La última copia de seguridad buena es de: { $moment }
told-backup-due = Lo medido desde entonces está en un solo disco. Conecte el disco de copias; en el servidor, quietcuff backup hace una y dice qué falla.
told-subject-delivery-stuck = Las mediciones no llegan al servidor del centro de salud
told-delivery-stuck = En el servidor, quietcuff deliver list dice qué espera y por qué.
told-subject-after-birth = { $who }: los niveles del embarazo han terminado
told-subject-daemon-deaf = No se puede recibir ninguna medición desde: { $moment }
told-daemon-deaf = Lo que se sabe: { $why }. Un tensiómetro con memoria guarda sus mediciones y las envía más tarde. En el servidor, quietcuff check mira lo que hace falta.
told-subject-lapsed = No avisado a tiempo
told-lapsed = Esta forma de avisar no funcionó. Lo que no se pudo avisar entre { $from } y { $to }, y ya no vale la pena avisar: { $what }.
told-lapsed-matter = { $n } × { $kind ->
    [urgent] medición que no puede esperar
    [session-due] sesión que tocaba
    [half-done] sesión a medias
    [missed] sesión que faltó
    [period-finished] fin de un periodo
    [battery-low] pilas gastadas
    [monitor-silent] tensiómetro en silencio
    [backup-due] copia de seguridad antigua
    [after-birth] fin de los niveles del embarazo
    [delivery-stuck] nada llega al servidor del centro de salud
    [check-due] tensiómetro por revisar
   *[daemon-deaf] sin recepción
}
told-subject-test = Prueba: quietcuff le llega
told-test = Esto es una prueba. No ha pasado nada y no hay nada que hacer.
calendar-session = Presión arterial, { $slot ->
    [morning] mañana
   *[evening] tarde
} ({ $who })

## Whose it is, and who changed it

error-changed = Entretanto otra persona cambió esto, así que no se guardó nada de lo suyo. Vuelva atrás, cargue la página de nuevo y mire cómo está ahora.
versions-title = Otra persona cambió esto mientras su formulario estaba abierto
versions-say = Todavía no se ha guardado nada de lo suyo.
versions-begun = Cuando usted empezó
versions-now = Ahora
versions-yours = Lo suyo
versions-below = El formulario de abajo tiene lo que vale ahora, con sus cambios encima. Mírelo y guárdelo si está bien.
number-title = Dar un número a alguien
number-which = Número en el tensiómetro
number-none = sin número
number-whose = De quién es
number-nobody = De nadie
number-from = Desde cuándo
number-from-now = desde ahora
number-from-moment = desde un momento
number-from-beginning = desde el principio
number-save = Entregar
number-confirm-title = Este número ya es de alguien
number-confirm-say = Todavía no se ha cambiado nada.
number-moves-nobody = { $count ->
    [0] Ninguna medición de { $from } cambiaría; lo que llegue desde entonces no sería de nadie.
    [one] Una medición de { $from } no sería de nadie.
   *[other] { $count } mediciones de { $from } no serían de nadie.
}
number-confirm = Sí, entregarlo
number-keep = Dejarlo como está
title-reading = Una medición
reading-time-unknown = desconocida
reading-received = Recibida
reading-nobodys = de nadie todavía
reading-assigned = alguien lo dijo
reading-discarded = No entra en el promedio, porque
reading-give = ¿De quién era?
reading-take-back-whose = Retirar lo dicho sobre de quién es
reading-take-back-discard = Incluirla al final en el promedio
answers-title = Lo último respondido
number-moves = { $count ->
    [0] Ninguna medición de { $from } cambiaría; lo que llegue desde entonces sería de { $to }.
    [one] Una medición de { $from } sería de { $to }.
   *[other] { $count } mediciones de { $from } serían de { $to }.
}

## Whether anybody listens

page-as-of = Visto: { $moment }.
page-stale = Esta página es de: { $moment }. Cárguela de nuevo para ver cómo está ahora.
listening-not-running = No llega ninguna medición: el programa que recibe no está en marcha. Un tensiómetro con memoria guarda sus mediciones. En el servidor, quietcuff check dice qué hacer.
listening-no-answer = No llega ninguna medición: el programa que recibe no responde. Póngalo en marcha de nuevo en el servidor.
listening-no-bluetooth = No llega ninguna medición: el Bluetooth del servidor no está en marcha. En el servidor, quietcuff check dice qué hacer.
listening-no-adapter = No llega ninguna medición: el servidor no tiene adaptador Bluetooth. Conecte uno.
listening-off = No llega ninguna medición: el adaptador Bluetooth del servidor está apagado.
listening-radio = No llega ninguna medición: { $detail }.
listening-disk = No se pueden guardar mediciones: { $detail }.
listening-clock = No se sabe si el reloj del servidor va bien. Las horas de esta página pueden estar mal hasta que reciba la hora de la red.
listening-silent = El tensiómetro { $detail } lleva callado más de lo habitual. Si alguien ha medido, acérquelo al servidor y mire sus pilas. Si no ha medido nadie, no hay nada que hacer.
listening-delivery = Las mediciones no llegan al servidor del centro de salud: { $detail }. Aquí están guardadas.
listening-not-delivering = Hay mediciones esperando para ir al servidor del centro de salud: el programa que las entrega no está en marcha. Aquí están guardadas. Póngalo en marcha en el servidor.
after-birth-ended = Han pasado ocho semanas desde el parto. Desde el { $date } valen los niveles generales, y ya no los del embarazo: una medición se llama muy alta a partir de un número más alto que antes. Si un centro de salud o una matrona vigila todavía la tensión, pregúnteles qué niveles valen.
listening-since = Desde: { $moment }.
listening-since-unknown = Nadie sabe desde cuándo.
