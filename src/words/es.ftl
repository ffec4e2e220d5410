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
full-date = { $weekday }, { $date }
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
find-label = Buscar por nombre
find-do = Buscar
find-shown = { $from }–{ $to } de { $n }
find-none = Nadie ni nada se llama así.
find-parts = Partes
find-more = Y { $n } más
find-whose = Otra persona
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
sheet-list-all = Mostrar cada medición, también de más de 31 días
sheet-too-many = { $n } mediciones son más de las que caben en un informe ({ $most }): pida menos días.
empty-days = { $who } no tiene ninguna medición del { $from } al { $to }; { $near }
empty-at-all = todavía no hay ninguna medición
empty-before = la última anterior fue el { $before }
empty-after = la primera posterior fue el { $after }
empty-between = las más cercanas son del { $before } y del { $after }

## The sheet for the clinic

short-date = { $day } { $month } { $year }
short-day = { $weekday }, { $date }
day-of-month = { $day } de { $month }
plot-day = { $weekday } { $day } { $month }
list-and = { $most } y { $last }
not-stated = no se indicó
unit-d = d
unit-h = h
unit-min = min
unit-s = s
arms-between = brazos de { $min } a { $max } cm
arms-from = brazos desde { $min } cm
arms-to = brazos hasta { $max } cm
sheet-number = Hoja { $number } de { $all }
sheet-letters-missing = Algunas letras no están en ningún tipo de letra del equipo que hizo este archivo: aparecen como «?». El informe en HTML las muestra, y también el texto que se copia de aquí.
sheet-no-font = Ningún tipo de letra de este equipo tiene letras que este informe necesita ({ $scripts }), así que no se hizo el PDF. En el servidor, instale { $packages }, o use el informe tal como se muestra aquí.
sheet-title = Tensión arterial en casa de { $who }
sheet-whose = { $about }. { $days }. Protocolo: { $title } ({ $name }).
sheet-born = fecha de nacimiento { $born }
sheet-record-number = número de historia { $number }
sheet-left-arm = brazo izquierdo
sheet-right-arm = brazo derecho
sheet-average = Promedio de { $n ->
    [one] { $n } medición
   *[other] { $n } mediciones
} en { $days ->
    [one] { $days } día
   *[other] { $days } días
}{ $pulse ->
    [none] .
   *[other] , pulso { $pulse } por minuto.
}
sheet-interval = El intervalo del 95 % es de { $systolic } en la sistólica y de { $diastolic } en la diastólica.
sheet-no-average = Sin promedio
sheet-no-average-say = No hay mediciones suficientes para un promedio ({ $there }). No se muestra ningún promedio, porque un número que se muestra es un número que se usa.
sheet-none-counts = ninguna cuenta
sheet-no-threshold = No se aplica ningún límite: { $why }
sheet-threshold-reached = En el límite de { $limits } mmHg o por encima: { $which }. Solo un médico puede decir qué significa.
sheet-threshold-below = Por debajo del límite de { $limits } mmHg.
sheet-threshold-would = El límite sería { $limits } mmHg.
sheet-threshold-exact = El promedio exacto de la { $which ->
    [systolic] sistólica
   *[diastolic] diastólica
} es { $exact }, por debajo de { $limit }.
sheet-threshold-source = Límite: { $source }
sheet-set-by-clinic = fijado por el centro de salud de la persona
sheet-band = La palabra de la propia guía: { $name } ({ $source }).
sheet-go-on = Tan cerca del límite, el protocolo sigue hasta { $days } días.
reached-systolic = sistólica
reached-diastolic = diastólica
reached-morning-systolic = sistólica de la mañana
reached-morning-diastolic = diastólica de la mañana
reached-evening-systolic = sistólica de la tarde
reached-evening-diastolic = diastólica de la tarde
sheet-caution = Esto es un promedio, no un diagnóstico. Los síntomas van primero, digan lo que digan los números. No empiece, deje ni cambie un medicamento por él. Un programa apagado no da ninguna alarma. Hecho el { $moment }.
sheet-trouble = Al hacerlo: { $what }, desde el { $since }.
sheet-trouble-since-unknown = Al hacerlo: { $what }, nadie sabe desde cuándo.
trouble-not-running = no llegan mediciones, porque el programa que recibe no está en marcha
trouble-no-answer = no llegan mediciones, porque el programa que recibe no responde
trouble-no-bluetooth = no llegan mediciones, porque el servicio de Bluetooth no está en marcha
trouble-no-adapter = no llegan mediciones, porque no hay adaptador de Bluetooth
trouble-off = no llegan mediciones, porque el adaptador de Bluetooth está apagado
trouble-radio = no llegan mediciones: { $detail }
trouble-disk = no se guardan mediciones: { $detail }
trouble-clock = no es seguro que el reloj del servidor vaya bien
trouble-silent = el tensiómetro { $detail } lleva callado más de lo habitual
trouble-delivery = las mediciones no llegan al servidor del centro de salud: { $detail }
trouble-not-delivering = hay mediciones que esperan ir al servidor del centro de salud, porque el programa que las entrega no está en marcha
sheet-raised = { $about }, el { $moment }
about-symptoms = Síntomas
about-very-high = Muy alta
about-very-high-in-pregnancy = Muy alta en el embarazo
about-high-in-pregnancy = Alta en el embarazo
about-very-low = Muy baja
about-low = Baja
about-pulse = Pulso
about-irregular-pulse = Pulso irregular
sheet-urgent-told = Lo que se dijo en casa está en «{ $heading }».
sheet-urgent-more = { $n } más de este tipo, en «{ $heading }».
sheet-answered = { $moment }: { $what }.
sheet-answered-by = { $moment }: { $what }, lo dijo { $by }.
sheet-settled = Mediciones posteriores lo resolvieron, el { $moment }.
sheet-overtaken = Otro aviso ocupó su lugar el { $moment }.
sheet-unanswered = Nadie ha dicho qué se hizo.
sheet-low-diastolic = Diastólica baja: { $n } de { $all ->
    [one] { $all } medición
   *[other] { $all } mediciones
} tienen una diastólica por debajo de { $limit } mmHg, y { $very-low } de ellas por debajo de { $very-low-limit }; la más baja es { $lowest }. No se alarmó a nadie por ello.
sheet-standing = Al ponerse de pie, { $say } Fuente: NICE 2023 y ESC 2024 nombran una caída de 20/10; los minutos se cuentan desde la última medición en reposo.
table-averages = Promedios en mmHg, sistólica sobre diastólica
column-systolic-95 = 95 % sistólica
column-diastolic-95 = 95 % diastólica
column-days = Días
row-all-days = De todos los días
row-protocol-without-first = Según el protocolo, sin el primer día
row-protocol-all-days = Según el protocolo, de todos los días
row-without-first = Sin el primer día
row-mornings = Mañanas
row-evenings = Tardes
row-first-mornings = Primera medición de cada mañana
row-standing = De pie, no entra en el promedio
row-lying = Acostado, no entra en el promedio
row-night = De noche, no entra en el promedio
below-plot-stems = Cada medición es un trazo fino de la sistólica a la diastólica. Las apartadas son marcas en el borde inferior; la tabla distingue las que cuentan de las marcadas.
below-plot-days = En cada día la mañana está a la izquierda y la tarde a la derecha; una sesión que falta deja un hueco.
below-plot-dashed = A trazos: el límite.
below-plot-dashed-across = A trazos de izquierda a derecha: el límite.
below-plot-left-out = { $n ->
    [one] { $n } medición sin hora o sin un valor posible está solo en la tabla.
   *[other] { $n } mediciones sin hora o sin un valor posible están solo en la tabla.
}
below-plot-every = Cada punto es la media de { $every ->
    [day] un día
    [week] una semana
   *[month] un mes
}; su línea va de la medición más baja a la más alta de las que cuentan.
below-plot-aside = { $n ->
    [one] { $n } medición apartada: se cuenta abajo, no se dibuja.
   *[other] { $n } mediciones apartadas: se cuentan abajo, no se dibujan.
}
sheet-completeness = { $sessions } de { $expected } sesiones. { $n ->
    [one] { $n } medición
   *[other] { $n } mediciones
}: { $counted } cuentan, { $marked } de ellas marcadas{ $marked-why }; { $aside } apartadas{ $aside-why }.
sheet-nobodys = { $n ->
    [one] { $n } medición más de estos días todavía no es de nadie.
   *[other] { $n } mediciones más de estos días todavía no son de nadie.
}
sheet-mornings-and-evenings = Mañanas y tardes
sheet-heavy-ticks = Las marcas gruesas de la derecha son las medias.
sheet-every-day = Día por día
sheet-every-week = Semana por semana
sheet-every-month = Mes por mes
sheet-sure = Qué seguro es el promedio
sheet-to-look-at = Para que lo mire el médico
sheet-complete = Qué completo fue el periodo
sheet-vary = Cómo varían las mediciones
sheet-reasons = Por qué se marcaron o apartaron mediciones
sheet-readings = Todas las mediciones
sheet-noted = Anotado en estos días
sheet-monitor = El tensiómetro
sheet-clocks = Relojes
sheet-protocol = El protocolo
sheet-to-bear-in-mind = Para tener en cuenta
sheet-interval-means = El intervalo toma el día como la unidad que se repite, porque las mediciones de un día se parecen. No conoce un error del tensiómetro. Con el límite se compara el promedio exacto, nunca uno redondeado.
sheet-carried-over = Tampoco sabe si un día influye en el siguiente: si cada día se pareciera al anterior, con una correlación supuesta de { $assumed }, el intervalo sería de { $systolic } en la sistólica y de { $diastolic } en la diastólica. Una semana no puede decirlo.
beside-nothing-noted = En estos días no se anotó ningún síntoma ni cambio de medicamento.
beside-medicine = Medicamentos: { $changes }. En estos días no se anotó ningún síntoma.
beside-symptoms = Síntomas: { $symptoms }. En estos días no se anotó ningún cambio de medicamento.
beside-both = Síntomas: { $symptoms }. Medicamentos: { $changes }.
beside-clinic-none = No se anotó ninguna medición en el centro de salud, tampoco en las ocho semanas anteriores.
beside-clinic = En el centro de salud: { $readings }.
beside-changed = se cambió
beside-on = { $what } el { $day }
beside-more = y { $n } más
beside-before-none = No hay ningún periodo antes de este.
beside-before = El periodo anterior ({ $days }, con { $protocol }): { $average } mmHg, de { $n ->
    [one] { $n } medición
   *[other] { $n } mediciones
}.
beside-before-too-few = El periodo anterior ({ $days }, con { $protocol }) tuvo muy pocas mediciones para un promedio.
beside-measured-with = Medido con { $monitors }; en { $arm ->
    [left] el brazo izquierdo
    [right] el brazo derecho
   *[none] un brazo que nadie ha indicado
}, { $around ->
    [none] su contorno no se indicó.
   *[other] { $around } cm de contorno.
}
beside-upper-arm = brazo
beside-wrist = muñeca
beside-site-not-stated = no se indicó dónde se lleva
beside-validation = validación según se indicó: { $listed }
beside-validation-none = no se indicó validación
beside-cuff-not-stated = no se indicó el tamaño del manguito
beside-cuff = manguito para { $arms }
sheet-week-of = Semana del { $day }
column-mean = Media
column-systolic = Sistólica
column-diastolic = Diastólica
column-on-days = En días
table-every = Mediciones de cada { $every ->
    [day] día
    [week] semana
   *[month] mes
} que cuentan, en mmHg: su media, y de la más baja a la más alta. Ninguna de estas medias es un promedio según el protocolo.
sheet-not-listed = { $n ->
    [one] { $n } medición de tantos días no se enumera una por una
   *[other] { $n } mediciones de tantos días no se enumeran una por una
}; cuántas se marcaron o apartaron, y por qué, está arriba. Para tenerlas todas: quietcuff report --readings.
column-morning = Mañana
column-evening = Tarde
column-other = A otras horas
table-sessions = Mediciones por { $by ->
    [month] mes
   *[day] día
} y parte del día: { $sessions } de { $expected } sesiones hechas. { $balance }
cell-none = ninguna
cell-counted = { $n } cuentan
cell-aside = { $n } apartadas
cell-both = { $counted } cuentan, { $aside } apartadas
cell-marked = marcada
cell-own-mean = en una media propia
cell-outside = fuera de toda sesión
cell-left-out = excluida por el protocolo
cell-no-value = sin valor
cell-monitor = tensiómetro
cell-person = persona
table-spread = Dispersión en mmHg, el coeficiente de variación en por ciento
column-averaged = Mediciones promediadas
column-n = Número
column-sd = Desviación estándar
column-cv = Coeficiente de variación
column-arv = Variabilidad real media
column-range = Amplitud
row-all-systolic = Todas, sistólica
row-all-diastolic = Todas, diastólica
row-first-systolic = Primera de cada mañana, sistólica
row-first-diastolic = Primera de cada mañana, diastólica
sheet-vary-say = Como información, no como juicio: no hay acuerdo sobre cómo medir la variabilidad, y ningún ensayo muestra que reducirla ayude (ESC 2024, sección 5.6). Variabilidad real media: media de las diferencias absolutas entre mediciones sucesivas (Mena et al., J Hypertens 2005;23:505).
sheet-effect = Efecto conocido en mmHg, que se muestra y nunca se resta: sistólica { $systolic }, diastólica { $diastolic } ({ $source }).
effect-none = ningún efecto significativo
effect-higher = { $by } más alta
effect-lower = { $by } más baja
effect-between = { $lower } más baja a { $higher } más alta
effect-about = unos { $by } de diferencia
effect-up-to = hasta { $by } de diferencia
effect-too-small = demasiado pequeño: { $by } más alta
effect-too-large = demasiado grande: { $by } más baja
basis-observed = observado
basis-reported = declarado
basis-on-record = registrado
sheet-reasons-none = Ninguna.
table-reasons = Motivos, cuántas veces, y cómo se conoce cada uno
column-reason = Motivo
column-known = Se conoce
column-says = Qué dice
column-source = Fuente
column-part = Parte
column-disposition = Destino
column-why = Por qué
column-clock-off = Reloj
part-morning = mañana
part-evening = tarde
part-other = otra hora
table-readings = { $n ->
    [one] { $n } medición
   *[other] { $n } mediciones
} según el reloj de casa, sistólica sobre diastólica en mmHg si no se nombra otra unidad
clock-slow = { $by } atrasado
clock-fast = { $by } adelantado
clock-was = el reloj iba { $one }
clock-up-to = de ninguna hasta { $other }
clock-between = el reloj iba entre { $one } y { $other }
column-when = Cuándo
column-about = Sobre
column-what = Qué
table-noted = Lo que se anotó en casa; dicho por una persona, no medido
sheet-due = Pendiente desde el { $date }: { $task } ({ $because }).
because-dropped = se cayó el { $date }
because-badly-stored = se guardó mal el { $date }
because-many-people = lo usaron muchas personas en un día, el { $date }
because-disagrees = no coincidió con las mediciones del centro de salud el { $date }
because-scatters = sus mediciones empezaron a variar mucho el { $date }
because-checked = revisado por última vez el { $date }
because-never-checked = nunca revisado, en uso desde el { $date }
because-unknown = nadie ha indicado cuándo se compró o se revisó
because-years = { $years } años en uso, contados desde el { $since }
because-battery = su pila estaba al { $level } % el { $date }
fact-worn = Se lleva
fact-on-upper-arm = en el brazo
fact-on-wrist = en la muñeca
fact-made = Fabricante y modelo
fact-serial = Número de serie
fact-validation = Validación
fact-validated = indicada por una persona: { $listed }
fact-not-validated = nadie ha indicado ninguna
fact-cuff = Manguito
fact-arm = Brazo de la persona
fact-around = { $cm } cm de contorno
fact-in-use = En uso desde
fact-checked = Última revisión
fact-never-checked = ninguna anotada
fact-falls = Caídas desde entonces
column-fact = Dato
column-on-record = Registrado
table-monitor = Tensiómetro { $monitor }, { $n ->
    [one] { $n } medición
   *[other] { $n } mediciones
} en estos días
column-monitor = Tensiómetro
column-time-known = La hora se sabe por
column-correction = Corrección
table-clocks = Cómo se sabe la hora de cada medición, y qué se corrigió
time-by-clock = su marca de hora, comparada con el propio reloj del tensiómetro
time-by-offset = su marca de hora, desplazada según la última diferencia conocida de ese reloj
time-by-stamp = su marca de hora tal como está; no se sabe nada mejor de ese reloj
time-by-receipt = el momento en que se recibió
time-by-word = la palabra de una persona
time-by-nothing = nada: no se sabe
column-rule = Regla
column-value = Valor
column-read = Leído
table-rules = Las reglas de { $name }, y hasta dónde se leyó cada fuente
rule-days = Días
rule-sessions = Sesiones al día
rule-readings = Mediciones por sesión
rule-gap = Tiempo mínimo entre ellas
rule-not-asked = no se pide
rule-asked = se pide
rule-asked-before-bed = se pide; se juzga donde se anotó la hora de acostarse
rule-days-min = Menos días para un promedio
rule-readings-min = Menos mediciones para un promedio
rule-mornings-min = Mañanas de un promedio equilibrado
rule-evenings-min = Tardes de un promedio equilibrado
rule-at-least = al menos { $n }
rule-settling = Espera tras un cambio de medicamento
rule-of-days = { $n } días
rule-first-day = El primer día
rule-left-out = se excluye
rule-averaged = se promedia
rule-threshold = Su límite
rule-target = Objetivo en tratamiento, { $name }
rule-below = por debajo de { $limits }; no se aplica aquí
tie-not-just-woken = no recién despertado
tie-within-hour-of-waking = en la primera hora tras despertar
tie-before-breakfast = antes del desayuno
tie-before-medicines = antes de los medicamentos
tie-before-dinner = antes de la cena
tie-before-bed = antes de acostarse
read-in-full = entera
read-in-a-summary = en un resumen
read-from-memory = de memoria, sin confirmar
read-common-practice = práctica común
read-own-choice = elección propia
read-clinic = del centro de salud
mind-no-threshold = Ningún límite en el embarazo, para niños, en la fibrilación auricular o en un brazo de diálisis, salvo que un médico lo haya fijado.
mind-validation = Si el tensiómetro está validado y el manguito es adecuado debe comprobarlo una persona.
mind-nothing-corrected = Ningún valor se corrigió por una falta. Lo que se apartó o marcó está enumerado, nunca eliminado.
mind-reported = Los motivos que empiezan por «declarado» son la palabra de una persona, no del tensiómetro.
plot-title = Tensión arterial de { $who }, { $days }
plot-threshold = límite
plot-pulse = pulso
plot-pulse-a-minute = pulso/minuto
lane-morning = mañana
lane-evening = tarde
lane-other = otra
plot-half = { $slot ->
    [morning] Mañanas
   *[evening] Tardes
}: media { $mean }, { $n ->
    [one] { $n } medición
   *[other] { $n } mediciones
}
plot-half-no-mean = { $slot ->
    [morning] Mañanas
   *[evening] Tardes
}: sin media, muy pocas mediciones
plot-says-counts = { $counted } cuentan, { $marked } marcadas y { $aside } apartadas, { $days }.
plot-says-from-to = Presiones sistólicas promediadas de { $low-systolic } a { $high-systolic }, diastólicas de { $low-diastolic } a { $high-diastolic } mmHg.
plot-says-dashed = Líneas a trazos en el límite de { $limits }.
plot-says-table = La tabla de todas las mediciones tiene cada valor.
plot-says-table-of-parts = Su tabla tiene cada valor.
plot-says-parts = { $n ->
    [one] { $n } { $every ->
        [day] día
        [week] semana
       *[month] mes
    }
   *[other] { $n } { $every ->
        [day] días
        [week] semanas
       *[month] meses
    }
} con mediciones que cuentan, { $days }.
plot-says-first-last = La primera media es { $first }, la última { $last } mmHg.
plot-says-lowest-highest = La media más baja es { $lowest }, la más alta { $highest } mmHg.
key-mean = media de { $every ->
    [day] un día
    [week] una semana
   *[month] un mes
}, de la más baja a la más alta
key-few-days = en menos de 3 días
key-clinic = en el centro de salud
key-medicine = cambio de medicamento

## The program's own protocols; names of guidelines stay as they are

protocol-seven-days-morning-and-evening = Siete días, mañana y tarde
protocol-two-weeks-morning-and-evening = Dos semanas, mañana y tarde
protocol-one-day-a-week-for-twelve-weeks = Un día a la semana durante doce semanas
protocol-esh-2023-from-memory = ESH 2023 (de memoria)
protocol-india-igh-iv-2019-not-confirmed = India, IGH-IV 2019 (sin confirmar)
protocol-ish-2020-from-memory = ISH 2020 (de memoria)
protocol-jsh-2019-schedule-not-confirmed = JSH 2019 (horario sin confirmar)
protocol-jsh-2025-schedule-not-confirmed = JSH 2025 (horario sin confirmar)
protocol-elevated = elevada
protocol-hypertension-range = rango de hipertensión
protocol-stage-1-range = rango de grado 1
protocol-stage-2-range = rango de grado 2
protocol-on-treatment = en tratamiento
protocol-on-treatment-all-adults = en tratamiento, todos los adultos
protocol-on-treatment-under-80-years = en tratamiento, menos de 80 años
protocol-on-treatment-80-years-and-over = en tratamiento, 80 años o más
protocol-under-75-years-or-high-risk = menos de 75 años o riesgo alto
protocol-75-years-and-over = 75 años o más
protocol-all-ages-if-tolerated = todas las edades, si se tolera

## What is worked out of readings, for the clinician

balance-parts = { $mornings ->
    [one] { $mornings } mañana
   *[other] { $mornings } mañanas
} y { $evenings ->
    [one] { $evenings } tarde
   *[other] { $evenings } tardes
}, { $readings } promediadas en cada serie.
balance-parts-uneven = Sin equilibrio: { $mornings ->
    [one] { $mornings } mañana
   *[other] { $mornings } mañanas
} y { $evenings ->
    [one] { $evenings } tarde
   *[other] { $evenings } tardes
}, { $readings } promediadas en cada serie; un promedio equilibrado tiene al menos { $mornings-min ->
    [one] { $mornings-min } mañana
   *[other] { $mornings-min } mañanas
} y { $evenings-min ->
    [one] { $evenings-min } tarde
   *[other] { $evenings-min } tardes
}.
balance-mean-of-sittings = La media de las medias de las { $sittings } series es { $mean } mmHg: algunas series tienen muchas más mediciones que otras.
chance = A juzgar por cómo varían estas mediciones, la probabilidad de que el promedio de esta persona en muchos días como estos esté en { $limits } o por encima es { $chance }. Tiene en cuenta la dispersión entre días y entre mediciones, no un error del tensiómetro, y no es un diagnóstico.
chance-least = menos de 1 de 100
chance-most = más de 99 de 100
chance-about = de unos { $percent } de 100
no-interval-too-wide = Los días son muy pocos, o demasiado distintos, para un intervalo que signifique algo.
no-interval-one-day = Un solo día no da ningún intervalo.
insufficient = { $readings } de { $readings-min } mediciones{ $dropped ->
    [yes] { " " }sin el primer día
   *[no] { "" }
}{ $at-most ->
    [0] { "" }
   *[other] { " " }(de una serie como mucho { $at-most })
}, { $days } de { $days-min } días{ $consecutive ->
    [yes] { " " }seguidos
   *[no] { "" }
}
labels-off-young = menor de 18 años o casi: los límites de adultos no se aplican (Stergiou et al., J Hypertens 2007: límites en casa según la talla)
labels-off-pregnancy = embarazo o las ocho semanas después del parto: los límites en casa no están probados ahí (ESC 2024, sección 9.2)
labels-off-atrial-fibrillation = fibrilación auricular conocida: la mayoría de los tensiómetros automáticos no están validados para ella (ESC 2024; NICE NG136)
labels-off-dialysis = diálisis: los límites en casa solo se aplican donde un médico los fijó
target-stands = El objetivo del centro de salud para esta persona es menos de { $limits } mmHg{ $from }{ $stands ->
    [below] : el promedio está por debajo.
    [not-below] : el promedio no está por debajo.
   *[none] ; no hay promedio con que compararlo.
}
target-from-both = { " " }(elegido por { $by }; fuente: { $source })
target-from-by = { " " }(elegido por { $by })
target-from-source = { " " }(fuente: { $source })
outside-counted = { $n ->
    [one] { $n } medición que cuenta está fuera de toda sesión y no entra en el promedio.
   *[other] { $n } mediciones que cuentan están fuera de toda sesión y no entran en el promedio.
}
outside-counted-with = { $n ->
    [one] { $n } medición que cuenta está fuera de toda sesión y no entra en el promedio; con ella
   *[other] { $n } mediciones que cuentan están fuera de toda sesión y no entran en el promedio; con ellas
} sería { $with } mmHg ({ $change }).
standing-up = { $day }: { $from ->
    [lying] acostado
    [night] de noche
    [standing] de pie
   *[seated] sentado
} { $rest } mmHg{ $first }{ $third }.
standing-after-1 = ; tras 1 minuto de pie { $standing }, una caída de { $by }{ $reaches ->
    [yes] , que llega a 20 o a 10
   *[no] { "" }
}
standing-after-3 = ; tras 3 minutos de pie { $standing }, una caída de { $by }{ $reaches ->
    [yes] , que llega a 20 o a 10
   *[no] { "" }
}
medicine-changed-on = Se cambió un medicamento en estos días, el { $days }: el promedio mezcla el antes y el después.
change-lacks = { $before ->
    [one] { $before } día
   *[other] { $before } días
} antes y { $after ->
    [one] { $after } día
   *[other] { $after } días
} desde el { $settled }; hacen falta { $needed } de cada lado
pattern-irregular-pulse = Pulso irregular
pattern-arms-differ = Brazos distintos
pattern-white-coat = Bata blanca
pattern-masked = Enmascarada
pattern-white-coat-effect = Efecto de bata blanca
pattern-clinic-beside-home = Centro de salud y casa
pattern-medicine-settling = Espera tras el cambio de medicamento
pattern-medicine-changed = Cambio de medicamento
pattern-morning-rise = Subida por la mañana
pattern-morning-average = Promedio de las mañanas
pattern-called-white-coat = bata blanca
pattern-called-masked = enmascarada
pattern-say-irregular-pulse = Pulso irregular señalado por el tensiómetro en { $sessions } sesiones ({ $readings } mediciones). Un tensiómetro no puede decir por qué; un electrocardiograma sí.
pattern-say-arms-differ = En { $n ->
    [one] { $n } serie
   *[other] { $n } series
} con ambos brazos (hacen falta { $needed }), la sistólica del brazo { $arm ->
    [right] derecho
   *[left] izquierdo
} fue más alta en { $by } mmHg, en { $least } o más con una probabilidad del 97,5 %. La guía pide usar desde entonces el brazo con la presión más alta; en este promedio hay mediciones de ambos brazos.
pattern-say-morning-rise = En { $n ->
    [one] { $n } día
   *[other] { $n } días
} con ambas (hacen falta más de { $needed }) la media sistólica de la mañana estuvo por encima de la de la tarde en { $by } mmHg de promedio, en { $least } o más con una probabilidad del 97,5 %. El consenso llama a { $marker } un signo de riesgo aparte del promedio.
pattern-say-morning-average = La media de { $n } mediciones de la mañana en { $days ->
    [one] { $days } día
   *[other] { $days } días
} es { $mean }{ $interval }, en 135/85 o por encima; hacen falta más de { $readings-needed } en más de { $days-needed } días. El consenso mira la media de la mañana por sí misma, sean las que sean las mediciones del centro de salud.
pattern-interval = { " " }(95 %: { $systolic } sobre { $diastolic })
pattern-by = { $by } (intervalo del 95 %: { $low } a { $high })
pattern-say-medicine-settling = Medicamento cambiado el { $change }, según se anotó. Los días hasta el { $settled } son de espera y no se comparan con nada. Hasta ahora hay { $before ->
    [one] { $before } día
   *[other] { $before } días
} antes y { $after ->
    [one] { $after } día
   *[other] { $after } días
} después; hacen falta { $needed } de cada lado.
pattern-say-medicine-changed = Medicamento cambiado el { $change }, según se anotó. Desde el { $settled } ({ $after ->
    [one] { $after } día
   *[other] { $after } días
}) frente a antes ({ $before ->
    [one] { $before } día
   *[other] { $before } días
}): sistólica { $systolic }, diastólica { $diastolic }. Los días de en medio son de espera y se excluyen. Que lo uno viniera después de lo otro no dice que viniera de ello.
pattern-beside = Las mediciones del centro de salud en { $within } días dan { $clinic } (95 %: { $systolic } sobre { $diastolic }), de { $visits ->
    [one] { $visits } visita
   *[other] { $visits } visitas
} de las { $needed } necesarias, { $clinic-readings ->
    [one] { $clinic-readings } medición
   *[other] { $clinic-readings } mediciones
}; las de casa { $home }{ $interval }, de { $home-readings ->
    [one] { $home-readings } medición
   *[other] { $home-readings } mediciones
} en { $days ->
    [one] { $days } día
   *[other] { $days } días
}
pattern-say-named = { $beside }: en el límite o por encima solo { $shape ->
    [clinic] en el centro de salud
   *[home] en casa
} ({ $there } allí, { $here } aquí). La guía llama a este patrón «{ $name }»; si lo es, y qué tiene que ver con ello el tratamiento de la persona, le corresponde al médico.
pattern-say-white-coat-effect = { $beside }: las del centro de salud son más altas en { $by }. NICE llama efecto de bata blanca a una diferencia de más de 20/10 en el momento del diagnóstico.
pattern-say-unnamed = { $beside }: { $why ->
    [limits] aquí no se puede nombrar ningún patrón
    [visits] muy pocas visitas para nombrar un patrón
   *[chance] ningún patrón se distingue del azar
}.
pattern-say-monitor-scatters = Más o menos desde el { $day } dos mediciones de una sesión se diferencian más que antes: en { $after } mmHg de promedio, antes en { $before }. Haga revisar el tensiómetro y su manguito.
pattern-say-monitor-disagrees = Hacia el { $day } las mediciones de casa se apartaron { $newest } mmHg de las del centro de salud; { $n } veces antes, { $usual } de promedio. Un cambio de medicamento puede hacerlo; el tensiómetro también. Hágalo revisar junto al del centro de salud.

## What to do next, on the terminal

next-not-begun = todavía no se ha empezado ningún día
next-begins = los días empiezan el { $day }
next-ended = los días terminaron el { $day }
next-begin-first = Todavía no se ha empezado ningún día para { $who }. { $command } los empieza; una medición que llegue de todos modos se guarda.
next-again-now = Mida otra vez ahora. { $say }
next-alert = { $say }
next-because-alert = { $what ->
    [symptoms] se anotaron síntomas
    [ask] se anotaron palabras que no están en la lista
    [very-high] una medición es muy alta
    [very-high-in-pregnancy] una medición es muy alta
    [high-in-pregnancy] una medición es alta para el embarazo
    [very-low] una medición es muy baja
    [low] una medición es baja
    [pulse] el pulso de una medición es muy rápido o muy lento
   *[irregular-pulse] el tensiómetro señaló un pulso irregular
}{ $nobodys ->
    [yes] , y nadie ha dicho de quién es
   *[no] { "" }
}, desde { $since } ({ $source })
next-all-in = hay { $n } mediciones; la sesión está completa
next-done = Listo. Quítese el manguito.
next-now = ahora
next-at = a las { $time }
next-moment = { $day }, { $time }
next-set-aside = la última medición se apartó: { $reason }
next-set-aside-so = la última medición se apartó: sin motivo
next-measure-again = Mida otra vez { $when }.
next-apart = las dos primeras mediciones se diferencian en más de { $limit } mmHg
next-in = { $n ->
    [1] hay una medición
    [2] hay dos mediciones
    [3] hay tres mediciones
   *[other] hay { $n } mediciones
}; una sesión tiene { $wanted ->
    [2] dos
    [3] tres
   *[other] { $wanted }
}
next-keep-on = No se quite el manguito. Haga la { $which ->
    [second] segunda
   *[third] tercera
} medición { $when }.
next-take = Haga ahora la { $which ->
    [second] segunda
   *[third] tercera
} medición.
next-nothing-due = ahora no toca ninguna sesión
next-complete = la sesión de la { $slot ->
    [morning] mañana
   *[evening] tarde
} está completa
next-due = toca la sesión de la { $slot ->
    [morning] mañana
   *[evening] tarde
}
next-due-again = toca la sesión de la { $slot ->
    [morning] mañana
   *[evening] tarde
}: la última terminó con { $counted } de { $wanted } mediciones
next-rest = Siéntese 5 minutos con calma, con la espalda, el brazo y los pies apoyados, y haga después la primera medición.
next-wait-noted = Espere hasta las { $time }, 30 minutos después de lo que anotó.
next-coming = La próxima sesión es la de la { $slot ->
    [morning] mañana
   *[evening] tarde
}, { $day } desde las { $time }.
next-beware = Atención: { $what }
state-rest = reposo
state-wait = esperar
state-second = segunda
state-third = tercera
state-done = listo
state-repeat = repetir
state-not-due = no toca
state-seek-help = pedir ayuda

## Short names of the reasons

why-body-movement = movimiento
why-cuff-too-loose = manguito flojo
why-improper-position = mala postura
why-irregular-pulse = pulso irregular
why-pulse-rate-above-range = pulso por encima del rango
why-pulse-rate-below-range = pulso por debajo del rango
why-no-value = sin valor
why-impossible-value = valor imposible
why-unlikely-value = valor poco probable
why-too-soon = demasiado pronto
why-time-unknown = hora desconocida
why-clock-fault = fallo del reloj
why-person-unknown = persona desconocida
why-discarded = descartada
why-outside-window = fuera de hora
why-lone-reading = medición única
why-third-reading-missing = falta la tercera medición
why-wrist-monitor = tensiómetro de muñeca
why-cuff-size = tamaño del manguito
why-not-validated = sin validar
why-reported-coffee = declarado: café
why-reported-smoking = declarado: tabaco
why-reported-exercise = declarado: ejercicio
why-reported-alcohol = declarado: alcohol
why-reported-meal = declarado: comida
why-reported-dinner = declarado: cena
why-reported-medicine = declarado: medicamento
why-reported-just-woken = declarado: recién despertado
why-reported-long-awake = declarado: mucho tiempo despierto
why-reported-long-before-bed = declarado: mucho antes de acostarse
why-reported-no-rest = declarado: sin reposo
why-reported-full-bladder = declarado: vejiga llena
why-reported-talked = declarado: habló
why-reported-over-clothing = declarado: sobre la ropa
why-reported-other-arm = declarado: otro brazo
why-reported-legs-crossed = declarado: piernas cruzadas
why-reported-back-unsupported = declarado: espalda sin apoyo
why-reported-arm-unsupported = declarado: brazo sin apoyo
why-reported-arm-low = declarado: brazo bajo
why-reported-fist-clenched = declarado: puño cerrado
why-reported-posture = declarado: otra postura
why-reported-standing = declarado: de pie
why-reported-lying = declarado: acostado
why-reported-night = declarado: de noche

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
doubt-time-unknown = { $monitor } cambió de manos antes de que llegara esta medición, y nadie sabe cuándo se tomó. Por eso no es de nadie hasta que alguien diga de quién es.
doubt-clock-unproven = { $monitor } cambió de manos a menos de un día de esta medición, y su hora viene de un reloj que nadie miró. Por eso no es de nadie hasta que alguien diga de quién es.
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
held-since = desde { $moment }
held-until = hasta { $moment }
monitor-user = número { $number }: { $person }
monitor-due = Por hacer
monitor-due-none = Nada.
monitor-due-on = { $task }, desde el { $date }
monitor-address = Dirección
monitor-places = Emparejado en
monitor-here = este servidor
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
listeners-title = Otras habitaciones
listeners-none = Ningún otro aparato envía mediciones a este servidor.
listeners-say = Un receptor es un aparato pequeño cerca de un tensiómetro, en otra habitación o en otra casa. Oye allí el tensiómetro y envía aquí las mediciones. Él llama a este servidor; donde está no hay que abrir nada.
listeners-manage = Dejar entrar a un receptor o retirarlo
listeners-door-shut = El programa que recoge lo que envían los receptores no está en marcha, así que no se puede dejar entrar a ninguno. Póngalo en marcha en el servidor:
listener-waiting = Espera allí
listener-waiting-n = { $n ->
    [0] nada
    [one] 1 trama
   *[other] { $n } tramas
}
listener-not-told = No lo ha dicho.
listener-clock-right = Se sabe que va bien.
listener-clock-unsure = No se sabe si va bien. Mire que la red de allí llegue a un servidor de hora.
listener-clock-told = Se la dice este servidor por la línea, con { $seconds } s de margen. De ahí sale la hora de lo que oye.
listener-clock-apart = { $seconds } s de { $where ->
    [behind] retraso
   *[ahead] adelanto
} respecto al reloj de este servidor.
listener-apart = Llamó ({ $moment }) y fue rechazado: tiene la versión { $theirs }, y este servidor la { $ours }. Solo se entienden versiones vecinas. Ponga los dos en la misma versión. Guarda lo que oye y lo enviará entonces.
listener-disk = Libre en su disco
listener-disk-low = Es poco. Haga sitio allí, o póngale una tarjeta más grande.
listener-version = Versión
listener-monitors = Tensiómetros que llegan por él
listener-monitors-none = Todavía ninguno.
listener-pair = Añadir un tensiómetro allí
listener-forget = Olvidar { $monitor } allí
listener-forgotten = El receptor ya no lo escucha, y su emparejamiento de allí se ha borrado. Sus mediciones se quedan.
listener-door-shut = El programa que recoge lo que envían los receptores no está en marcha, así que no se puede preguntar a ninguno. Póngalo en marcha en el servidor.
listener-closed = Volvió con una copia de seguridad. No se recoge nada de él hasta que alguien diga que puede seguir.
listener-confirm = Puede seguir
listener-withdraw = Retirar este receptor
listener-withdraw-say = Desde ese momento no se recoge nada más de él. Lo que ha enviado se queda. Para volver a entrar necesita un código nuevo.
listener-withdraw-do = Retirar
listener-withdrawn = Retirado: { $moment }.
listener-connected = Está conectado.
invite-title = Dejar entrar a un receptor
invite-label = Dónde está, por ejemplo dormitorio
invite-at = Nombre o dirección con que llega a este servidor
invite-do = Mostrar un código
invite-code = El código
invite-until = Deja entrar a un receptor, una vez, durante { $minutes } minutos: hasta las { $time }. Solo se muestra esta vez.
invite-scan = El código, para una cámara
invite-there = En el receptor, con el código detrás:
pair-title = Añadir un tensiómetro
pair-at = En el receptor { $listener }. El tensiómetro tiene que estar cerca de él.
pair-done-there = El tensiómetro está emparejado allí. Sus mediciones llegan por ese receptor.
pair-say = Ponga el tensiómetro en modo de emparejar y búsquelo aquí. Tarda hasta un minuto.
pair-look = Buscar tensiómetros
pair-looking = Buscando.
pair-found = Encontrados
pair-with = Emparejar con { $name }
pair-for = ¿De quién son las mediciones?
pair-called = Cómo llamarlo
pair-called-say = Letras, cifras, - y _. Si se deja vacío: el nombre que tenía, o el siguiente libre, como m2.
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
person-wrong-group = Un grupo es una sola palabra de { $most } caracteres visibles como máximo, por ejemplo arriba.
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
person-group = Grupo
person-group-ask = Grupo en una sola palabra, por ejemplo una planta o una sala
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
told-subject-listener-silent = El receptor { $listener } no se oye desde { $moment }
told-listener-silent = Es el aparato pequeño que oye { $monitors ->
    [0] los tensiómetros
    [one] un tensiómetro
   *[other] { $monitors } tensiómetros
} en su habitación y envía las mediciones. Si está usted allí, mire que esté enchufado y que la red funcione. Mientras tenga corriente guarda lo que oye y lo envía después; no hay que medir nada otra vez.
told-subject-listener-apart = Del receptor { $listener } no llegan mediciones desde { $moment }
told-listener-apart = Llama, pero tiene la versión { $theirs } y el servidor la { $ours }: demasiado lejanas para entenderse. Ponga los dos en la misma versión. Guarda lo que oye y lo enviará entonces; no hay que medir nada otra vez.
told-subject-door-shut = Nada llega de otras habitaciones desde { $moment }
told-door-shut = En el servidor no está en marcha el programa que recoge lo que envían los receptores; quietcuff check dice qué poner en marcha. Los receptores guardan lo que oyen y lo envían después.
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
    [listener-silent] receptor en silencio
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
number-until = Hasta cuándo, si ya se sabe
number-back = Devuelto
number-save = Entregar
number-confirm-title = Este número ya es de alguien
number-confirm-say = Todavía no se ha cambiado nada.
number-moves-nobody = { $count ->
    [0] Ninguna medición de { $from } cambiaría; lo que llegue desde entonces no sería de nadie.
    [one] Una medición de { $from } no sería de nadie.
   *[other] { $count } mediciones de { $from } no serían de nadie.
}
number-moves-doubted = { $count ->
    [one] Una de ellas no sería de nadie: puede ser de antes de que el número cambiara de manos, o de después.
   *[other] { $count } de ellas no serían de nadie: cada una puede ser de antes de que el número cambiara de manos, o de después.
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
listening-listener-silent = El receptor { $detail } no se oye, así que no llegan las mediciones de su habitación. Mire que esté enchufado y que la red funcione allí. Mientras tenga corriente guarda lo que oye y lo envía después.
listening-listener-apart = El receptor { $detail } llama, pero su programa y el de este servidor están en versiones demasiado lejanas para entenderse, así que no llegan las mediciones de su habitación. Ponga los dos en la misma versión. Guarda lo que oye y lo enviará entonces.
listening-door-shut = No llegan mediciones de otras habitaciones: el programa del servidor que las recoge no está en marcha. Los receptores las guardan. Póngalo en marcha en el servidor.
listening-delivery = Las mediciones no llegan al servidor del centro de salud: { $detail }. Aquí están guardadas.
listening-not-delivering = Hay mediciones esperando para ir al servidor del centro de salud: el programa que las entrega no está en marcha. Aquí están guardadas. Póngalo en marcha en el servidor.
after-birth-ended = Han pasado ocho semanas desde el parto. Desde el { $date } valen los niveles generales, y ya no los del embarazo: una medición se llama muy alta a partir de un número más alto que antes. Si un centro de salud o una matrona vigila todavía la tensión, pregúnteles qué niveles valen.
listening-since = Desde: { $moment }.
listening-since-unknown = Nadie sabe desde cuándo.

## The terminal

shape-marked = marcada: cuenta, con un aviso
shape-set-aside = apartada: se guarda y se muestra, no se promedia
column-who = Quién
column-pressure = Tensión
column-id = Identificador
column-sessions = Parte del día, y lo que cuenta
times-unknown = Nadie sabe cuándo se tomaron; cuándo llegaron
time-unknown-received = nadie sabe cuándo, recibida: { $moment }
session-counts = cuentan { $counted } de { $wanted } mediciones
session-counts-taken = cuentan { $counted } de { $wanted } mediciones, { $taken } tomadas
session-open = pueden venir más
session-short = muy pocas
session-apart = las dos primeras difieren
session-irregular = pulso irregular señalado
nothing-such = { $what ->
    [readings] no hay ninguna medición así
   *[sessions] no hay ninguna sesión así
}; sin { $options } se mostrarían todas
nothing-without-monitor = { $what ->
    [readings] todavía no hay ninguna medición
   *[sessions] todavía no hay ninguna sesión
}; { $command } empareja un tensiómetro, y lo que mide llega solo
nothing-yet = { $what ->
    [readings] todavía no hay ninguna medición
   *[sessions] todavía no hay ninguna sesión
}: mida mientras { $listens } escucha; { $says } dice si lo hace
nothing-begun = no se empezó ningún período; { $command } empieza uno hoy
nothing-changed = no se anotó ningún cambio de medicamento de { $who }; { $command } anota uno
nothing-enrolled = no hay ningún tensiómetro registrado; { $command } muestra los que están al alcance
nothing-added = todavía no se ha añadido a nadie; { $command } lo hace
nothing-noted = no se anotó nada; { $command } anota un café, por ejemplo
summary-heading = { $who }, { $days }: { $title }
summary-no-average = Todavía no hay promedio: { $there }. Con menos se sabría demasiado poco.
summary-pulse = Pulso por minuto
summary-caution = Un promedio no es un diagnóstico. Lo que significa lo dice su centro de salud.
summary-cautions = Los síntomas van primero, digan lo que digan los números. No empiece, deje ni cambie un medicamento por un promedio. Un programa apagado, o una radio que falla, no da ninguna alarma.
summary-more = { $command } muestra los motivos, la dispersión y un gráfico.
summary-assign = { $command } dice de quién.
summary-widened = Si cada día se pareciera al anterior con una correlación de { $correlation }, que aquí nadie ha medido, el intervalo del 95 % sería de { $systolic } en la sistólica y de { $diastolic } en la diastólica.
plot-wedges = Hacia abajo: sistólica. Hacia arriba: diastólica.
plot-column = Cada columna es { $days ->
    [1] un día
    [7] una semana
    [28] cuatro semanas
   *[other] { $days } días
}: ▼ media sistólica, ▲ media diastólica.
plot-column-spread = │ de la más baja a la más alta que cuentan. Sin dibujar: { $n } apartadas.
period-is-running = en curso
period-is-over = terminado
earlier-say = Junto a cada promedio anterior: el último menos él, con su intervalo del 95 %. De veinte intervalos así, uno deja fuera la verdad por puro azar.
earlier-difference = El último menos este: sistólica { $systolic }, diastólica { $diastolic }.
changes-before = Antes
changes-after = Desde el { $day }
changes-difference = Después menos antes
changes-not-compared = Sin comparar
changes-same = los días no varían
changes-no-reading = ninguna medición
changes-by = sistólica { $systolic }, diastólica { $diastolic }
changes-say = Antes: hasta { $days } días. Después: otros tantos, pasado el tiempo de espera del protocolo; los días de en medio quedan fuera, y ningún lado pasa por encima de otro cambio. Junto a ellos: después menos antes, con su intervalo del 95 %. Que lo uno viniera después de lo otro no dice que viniera de ello.
trace-no-reading = De esta trama no salió ninguna medición.
trace-stamp = su marca de hora dice { $stamp }
trace-no-stamp = sin marca de hora
trace-averaged = en el promedio
trace-not-averaged = fuera del promedio
trace-frame = Trama { $number }, recibida: { $moment }, de { $monitor }, conexión { $connection }, característica { $characteristic }
trace-frame-overheard = Trama { $number }, oída por el segundo oído: { $moment }, de { $monitor }, conexión { $connection }, característica { $characteristic }
trace-heard-by = oído por el oyente { $listener } { $label }
trace-time-told = recibido { $moment } según el reloj de este servidor, con { $seconds } s de margen: la máquina que lo oyó no tenía hora propia
trace-sum = En total { $sum } mmHg, entre { $n } mediciones: { $mean }
explain-counted = Cuenta. Entra en el promedio, y nada habla en contra.
explain-apart = Marcada. Va aparte: no entra en el promedio de ningún protocolo, sino en una media de su clase.
explain-marked = Marcada. Entra en el promedio de su sesión, con un aviso.
explain-set-aside = Apartada. Se guarda y se muestra, y no entra en el promedio.
explain-own-words = Con sus palabras: { $text }
explain-strict = Estas faltas por sí solas solo la marcarían. La apartan porque las mediciones de esta persona se juzgan con rigor.
explain-ignored = Sin tener en cuenta: el tensiómetro señaló { $flag }, y dice de sí mismo que no lo mira.
explain-mean = Descartada: la presión arterial media de { $mean } no está entre las otras dos. Quedan sin ella.
explain-minute = Su marca de hora solo tiene minutos enteros, que no pueden probar que se tomó demasiado pronto tras otra.
status-adapter = Adaptador
status-radio = Radio
status-journal = Diario
status-ear = Segundo oído
status-listening = escucha
status-way = los tensiómetros se enlazan { $way ->
    [direct] directamente
   *[bluez] por BlueZ
}: { $why }
status-linked = , enlazado { $way ->
    [direct] directamente
   *[bluez] por BlueZ
}
status-frames = { $n ->
    [one] { $n } trama
   *[other] { $n } tramas
} desde el inicio
status-frames-last = { $n ->
    [one] { $n } trama
   *[other] { $n } tramas
} desde el inicio, la última: { $moment }
status-heard = { $address }, oído por última vez: { $moment }
status-not-heard = { $address }, no oído desde el inicio
status-listener = receptor «{ $label }», oído por última vez { $moment }
status-listener-never = receptor «{ $label }», todavía no oído
status-listener-waits = { $n ->
    [one] 1 trama esperaba allí
   *[other] { $n } tramas esperaban allí
}
status-listener-clock = no se sabe si su reloj va bien
status-listener-clock-told = esta máquina le dice la hora, con { $seconds } s de margen
status-listener-clock-apart = su reloj lleva { $seconds } s de { $where ->
    [behind] retraso
   *[ahead] adelanto
} respecto al de este equipo
status-listener-apart = llamó ({ $moment }) y fue rechazado: tiene la versión { $theirs }, y este equipo la { $ours }; ponga los dos en la misma versión, guarda lo que oye
status-listener-version = versión { $version }
status-listener-disk = { $mb } MB libres en su disco
status-listener-battery = pilas de { $monitor }: { $level } %
status-door-shut = no está en marcha aquí el programa que recoge lo que envía
status-not-direct = no directamente: { $why }
status-users = { $n ->
    [one] mediciones de su usuario { $users }
   *[other] mediciones de sus usuarios { $users }
}, con consentimiento
ear-alone = { $n ->
    [one] una medición la oyó solo él
   *[other] { $n } mediciones las oyó solo él
}
ear-alone-unknown = el diario no dice qué oyó solo él
ear-off = apagado
ear-listening = { $n ->
    [one] escucha, { $n } medición
   *[other] escucha, { $n } mediciones
} desde su inicio
ear-left = { $n ->
    [one] { $n } aviso no era una medición, o venía de un lugar que no conoce
   *[other] { $n } avisos no eran mediciones, o venían de un lugar que no conoce
}
people-user = usuario { $number } de { $monitor }
people-usual = persona habitual de { $monitor }
deliver-clinic = Centro de salud
deliver-resources = Recursos
deliver-messages = Mensajes
deliver-counts = { $sent } enviados, { $waiting } en espera, { $refused } rechazados
deliver-contact = Último contacto
deliver-problem = Problema
deliver-not-before = otra vez no antes de: { $moment }
deliver-refused = Rechazado
deliver-retry = { $one } o { $all } deja que se envíen otra vez
deliver-held = Retenido
deliver-held-of = { $n } de { $who }: { $why }
release-title = Autorizado para el centro de salud
release-all = todo lo que se mide
release-from = lo que se mide desde: { $from }
release-until = lo que se mide hasta: { $until }
release-days = lo que se mide de { $from } a { $until }
release-said = { $what }; lo dijo { $who }, { $moment }
release-said-unnamed = { $what }; dicho: { $moment }
release-withdrawn = lo retiró { $who }, { $moment }
release-withdrawn-unnamed = retirado: { $moment }
release-unstated = nadie lo ha dicho; se envía porque la configuración nombra a la persona
release-missing = nadie lo ha dicho, y no se envía nada hasta que alguien lo diga
release-outside = no es de los días autorizados: { $what }
release-not-chosen = la configuración no nombra a la persona, así que no se envía nada
release-waits = { $n ->
    [one] 1 medición espera, porque ninguna autorización la incluye
   *[other] { $n } mediciones esperan, porque ninguna autorización las incluye
}
release-say = Las mediciones de estos días van a { $clinic }, con las medias de los periodos que caen enteros en ellos. Una vez retirada la autorización, no va nada nuevo ni corregido. Lo que ya está allí se queda allí; lo que era erróneo se sigue retirando allí.
release-give = Autorizar estos días
release-take-back = Retirar la autorización
release-first = Primer día; vacío: desde el principio
release-last = Último día; vacío: sin fin
opening-title = Historia en el centro de salud
opening-never = No está abierta: no se envía nada allí.
opening-since = Abierta desde: { $moment }
opening-taken = El centro de salud aceptó por última vez la clave de esta casa: { $moment }. Si la retira, se sabrá la próxima vez que se envíe algo.
opening-refused = No se envía nada allí: el centro de salud no acepta la clave de esta casa desde: { $moment }. Ha caducado o se retiró allí. Si no era la intención, abra de nuevo la historia.
opening-closed = Cerrada: { $moment }
opening-unreadable = No se puede leer cómo está. El registro de la página dice por qué.
opening-as = Se llama allí
opening-may = Lo que permitió el centro de salud
opening-say = En { $clinic } usted inicia sesión en la página propia del centro de salud y dice allí que esta casa puede escribir mediciones en esta única historia. La contraseña del centro de salud se escribe allí y en ningún otro sitio.
opening-open = Abrir la historia
opening-again = Abrirla de nuevo
opening-close = Cerrar la historia
opening-close-say = Una vez cerrada, no va nada más allí, y se pide al centro de salud que retire su clave. Lo que ya está allí se queda allí.
opening-came = Ha llegado la respuesta del centro de salud.
opening-on = Seguir
opening-asking = Se está preguntando al servidor del centro de salud.
opening-go = Ir a la página del centro de salud
opening-back-say = Después, el centro de salud le trae de vuelta aquí.
opening-not-back = No me trajo de vuelta aquí
opening-paste-say = Al final, el navegador queda en una dirección que empieza por { $address }, aunque no muestre ninguna página. Copie la dirección entera y póngala aquí.
opening-paste = La dirección entera
opening-take = Usarla
opening-missed = Esa no es la respuesta a lo que se empezó aquí. Use la dirección entera en la que terminó el navegador, o abra la historia de nuevo.
opening-taking = Se está recibiendo la respuesta del centro de salud.
opening-done = La historia está abierta. Lo que está autorizado para el centro de salud va allí.
opening-closing = Se está cerrando la historia.
opening-closed-there = La historia está cerrada: no va nada más allí, y su clave está retirada. Lo que ya está allí se queda allí.
opening-closed-here = No va nada más allí, y la clave está olvidada aquí. Diga al centro de salud que cierre lo que abrió: { $why }
opening-elsewhere = Alguien está abriendo o cerrando esta historia en otro navegador.
opening-no-role = El programa que entrega al centro de salud no está en marcha, así que aquí no se puede abrir ni cerrar ninguna historia. Póngalo en marcha en el servidor.
opening-declined = La historia no se abrió: usted o el centro de salud dijeron que no en la página del centro de salud.
opening-failed = { $fault ->
    [refused] El centro de salud no deja entrar a esta casa: { $why }
    [server] El servidor del centro de salud no responde como debería: { $why }
    [lacking] Al servidor del centro de salud le falta lo que esto necesita: { $why }
   *[here] Primero hay que arreglar algo aquí: { $why }
}
remind-kind = { $kind ->
    [urgent] medición que no puede esperar
    [session-due] sesión que tocaba
    [half-done] sesión a medias
    [missed] sesión que faltó
    [period-finished] fin de un periodo
    [battery-low] pilas gastadas
    [monitor-silent] tensiómetro en silencio
    [listener-silent] receptor en silencio
    [backup-due] copia de seguridad antigua
    [after-birth] fin de los niveles del embarazo
    [delivery-stuck] nada llega al servidor del centro de salud
    [check-due] tensiómetro por revisar
    [daemon-deaf] sin recepción
   *[other] otra cosa
}
remind-told = { $what }, por «{ $route }»
remind-state = { $state ->
    [due] pendiente
    [sent] avisado
    [pending] en espera
    [being-sent] avisando
    [lapsed] no avisado a tiempo
   *[dropped] ya no hace falta avisar
}
nothing-due = no hay nada pendiente, y en los últimos días no se avisó a nadie

## What home automation shows, each as the name of one value

entity-collector = Recibe mediciones
entity-monitor = Tensiómetro { $monitor }
entity-systolic = Sistólica
entity-diastolic = Diastólica
entity-pulse = Pulso
entity-measured-at = Medido el
entity-average-systolic = Promedio, sistólica
entity-average-diastolic = Promedio, diastólica
entity-session = Sesión
entity-urgent = No puede esperar
entity-battery = Pilas
entity-last-heard = Oído por última vez
