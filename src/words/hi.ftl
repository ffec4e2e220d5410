# Hindi. The same messages and variables as `en.ftl`. Digits stay Latin, as monitors show them.
# Unreviewed: no native speaker has read these words yet. The page's foot says so; `words.rs` holds which are.

## Dates and numbers

month-1 = जनवरी
month-2 = फ़रवरी
month-3 = मार्च
month-4 = अप्रैल
month-5 = मई
month-6 = जून
month-7 = जुलाई
month-8 = अगस्त
month-9 = सितंबर
month-10 = अक्टूबर
month-11 = नवंबर
month-12 = दिसंबर
weekday-1 = सोमवार
weekday-2 = मंगलवार
weekday-3 = बुधवार
weekday-4 = गुरुवार
weekday-5 = शुक्रवार
weekday-6 = शनिवार
weekday-7 = रविवार
weekday-short-1 = सोम
weekday-short-2 = मंगल
weekday-short-3 = बुध
weekday-short-4 = गुरु
weekday-short-5 = शुक्र
weekday-short-6 = शनि
weekday-short-7 = रवि
month-short-1 = जन॰
month-short-2 = फ़र॰
month-short-3 = मार्च
month-short-4 = अप्रै॰
month-short-5 = मई
month-short-6 = जून
month-short-7 = जुला॰
month-short-8 = अग॰
month-short-9 = सितं॰
month-short-10 = अक्टू॰
month-short-11 = नवं॰
month-short-12 = दिसं॰
date = { $weekday }, { $day } { $month }
date-with-year = { $day } { $month } { $year }
full-date = { $weekday }, { $date }
month-of-year = { $month } { $year }
today = आज
tomorrow = कल (आने वाला)
yesterday = कल (बीता हुआ)
on-day = { $date } को
moment = { $date }, { $time } बजे
range-of-days = { $from } से { $to } तक
slot-morning = सुबह
slot-evening = शाम
slot-other = दूसरे समय
decimal-mark = .

## The frame of every page

app = quietcuff
skip = सीधे मुख्य भाग पर जाएँ
pages = पन्ने
nav-now = अभी
nav-household = आज सब लोग
nav-week = इन दिनों
nav-earlier = पहले के
nav-sheet = डॉक्टर के लिए
nav-notes = टिप्पणियाँ
nav-questions = जवाब बाकी है
nav-monitors = मशीनें
nav-people = लोग
nav-set-up = एक बार की तैयारी
whose-page = किसका
find-label = नाम से खोजें
find-do = खोजें
find-shown = { $n } में से { $from }–{ $to }
find-none = इस नाम का कोई या कुछ नहीं है।
find-parts = हिस्से
find-more = और { $n }
find-whose = कोई और
everybody = सभी
language-name = हिन्दी
unreviewed = जिसकी मातृभाषा हिन्दी है, ऐसे किसी ने ये शब्द अभी नहीं जाँचे हैं। संदेह हो तो अंग्रेज़ी शब्द मान्य हैं।
leave = यह पन्ना छोड़ें
not-an-alarm = यह पन्ना कोई अलार्म नहीं है: बंद प्रोग्राम या ख़राब रेडियो किसी को चेतावनी नहीं देता। अंक कुछ भी कहें, लक्षण पहले आते हैं। यह रोग नहीं बताता और किसी दवा की सलाह नहीं देता।
read-only = आप यहाँ सब देख सकते हैं, पर कुछ बदल नहीं सकते।
nobody-yet = अभी कोई व्यक्ति नहीं जोड़ा गया है। एक व्यक्ति और एक मशीन जोड़ें, जिस क्रम में चाहें।
connection-lost = { $time } के बाद से सर्वर से कोई ख़बर नहीं। जो दिख रहा है वह पुराना हो सकता है।
no-script = यह पन्ना हर कुछ सेकंड में अपने आप ताज़ा होता है।
aloud = घंटी और आवाज़
aloud-asleep = पन्ने को एक बार छुएँ: तब तक यह ब्राउज़र कुछ सुनाई नहीं देने देता।
aloud-no-voice = इस ब्राउज़र के पास { $language } की अपनी आवाज़ नहीं है: सिर्फ़ घंटी बजेगी।
awake = नापते समय स्क्रीन चालू रखें

## Now: what to do next

title-now = अभी
step-rest = बैठकर आराम करें
step-rest-say = पाँच मिनट, शांति से। फिर मशीन का बटन दबाएँ।
step-rest-wait = { $time } बजे तक रुकें
step-rest-wait-say = तब आपकी लिखी बात को आधा घंटा हो जाएगा। फिर पाँच मिनट आराम करके नापें।
step-rest-slot = { $slot } की नाप का समय है।
step-rest-again = पिछली बार { $wanted } में से { $counted } नाप हुई। फिर से शुरू करें, या आज रहने दें।
step-resting = आराम करें
step-resting-say = स्थिर बैठें, साँस लें, कुछ न बोलें। इसके बाद पहली नाप होगी।
step-rested = बटन दबाएँ
step-rested-say = पाँच मिनट हो गए। अब पहली नाप लें।
step-measuring = हिलें नहीं
step-measuring-say = बात न करें। बाँह टिकी रहने दें।
cuff-rising = कफ़ का दबाव बढ़ रहा है
cuff-falling = कफ़ का दबाव घट रहा है
cuff-pressure = कफ़ का दबाव
step-wait = रुकें
step-wait-second = कफ़ बँधा रहने दें। इसके बाद दूसरी नाप होगी।
step-wait-third = कफ़ बँधा रहने दें। इसके बाद तीसरी नाप होगी: पहली दो नापों में { $limit } mmHg से ज़्यादा अंतर है।
step-wait-more = कफ़ बँधा रहने दें। { $wanted } में से नाप { $number } इसके बाद होगी।
step-second = बटन दबाएँ
step-second-say = अब दूसरी नाप लें।
step-third = बटन दबाएँ
step-third-say = अब तीसरी नाप लें: पहली दो नापों में { $limit } mmHg से ज़्यादा अंतर है।
step-more-say = अब { $wanted } में से नाप { $number } लें।
step-repeat = फिर से नापें
step-repeat-wait = रुकें, फिर दोबारा नापें
step-repeat-say = पिछली नाप अलग रखी गई है और औसत में नहीं गिनी जाएगी।
step-done = हो गया
step-done-say = कफ़ उतार दें।
step-done-between = { $slot } की नाप पूरी हो गई।
step-not-due = अभी कुछ नहीं करना है
step-not-due-say = फिर भी नाप आई तो वह रखी जाएगी।
step-over = ये दिन पूरे हो गए
days-begin = नापने के दिन { $day } शुरू होंगे।
coming = अगली नाप: { $slot }, { $day }, { $time } बजे से।
coming-none = आगे कोई नाप तय नहीं है।
help-again = फिर से नापें
help-wait = शांति से बैठें
help-today = आज ही अपने क्लिनिक से बात करें
help-now = अभी अपने क्लिनिक से बात करें
help-emergency = अभी आपातकालीन नंबर पर फ़ोन करें
help-low = बैठ जाएँ या लेट जाएँ
help-ask = क्या यह इनमें से कोई है?
help-tell = क्लिनिक के लिए एक बात
then-otherwise = उसके बाद: { $step }
start-rest = पाँच मिनट का आराम शुरू करें
stop-rest = आराम रोकें
last-reading = पिछली नाप
readings-so-far = इस बार की नापें
pulse = नब्ज़ { $pulse }
set-aside = अलग रखी गई
marked = गिनी गई, एक बात ध्यान देने की है
counted = गिनी गई
good = क्या अच्छा रहा
good-two = { $n } नापें, एक-एक मिनट या ज़्यादा के अंतर से
good-alone = सभी गिनी गईं
good-nothing-noted = उनमें सुधारने को कुछ नहीं
change = अगली बार के लिए
change-nothing = कुछ नहीं। फिर इसी तरह करें।
feel-unwell = मेरी तबीयत ठीक नहीं
call = { $who } को फ़ोन करें
turn-next = अगली बारी: { $who }
since-moment = { $moment } से।
answer-title = क्या किया गया?
answer-say = यह तब तक यहाँ रहता है जब तक कोई न बताए कि क्या किया गया, या बाद की नापें इसे सुलझा न दें।
answer-called-emergency = आपातकालीन नंबर पर फ़ोन किया गया
answer-contacted-clinic = क्लिनिक या आपात चिकित्सा सेवा से बात की गई
answer-looked-after = ध्यान रखा गया; किसी को फ़ोन नहीं किया
undelivered = एक संदेश, जो रुक नहीं सकता, { $moment } से “{ $route }” के रास्ते नहीं पहुँच सका। उन्हें ख़ुद बताएँ।
nobodys-say = बताएँ कि यह किसकी थी
unwell-title = अभी क्या करें
unwell-kept = { $time } पर लिख लिया गया।
unwell-not-kept = यह लिखा नहीं गया, इसलिए किसी और को ख़बर नहीं जाती: { $why }
unwell-why-form = फ़ॉर्म इस पन्ने से नहीं आया, या पन्ना बहुत पुराना था।
unwell-why-key = आपकी कुंजी इसे नहीं खोलती।
unwell-why-journal = इस समय अभिलेख में लिखा नहीं जा सकता।
unwell-why-person = इस नाम का कोई ज्ञात नहीं।
unwell-again = फिर से लिखें
unwell-next = अगले क़दम पर
technique = कैसे बैठें
technique-1 = पेशाब करके बैठें
technique-2 = पीठ टिकी हुई
technique-3 = पैर ज़मीन पर सपाट
technique-4 = पैर एक-दूसरे पर न रखें
technique-5 = बाँह मेज़ पर, दिल की ऊँचाई पर
technique-6 = कफ़ खुली बाँह पर
technique-7 = बात न करें
posture-1 = चित्र: शौचालय
posture-2 = चित्र: कोई मेज़ के सामने बैठा है, पीठ कुर्सी से टिकी है
posture-3 = चित्र: दोनों तलवे फ़र्श पर सपाट
posture-4 = चित्र: दोनों पैर साथ-साथ, एक-दूसरे पर नहीं
posture-5 = चित्र: बाँह मेज़ पर टिकी है, कफ़ दिल की ऊँचाई पर
posture-6 = चित्र: खुली ऊपरी बाँह पर कफ़, आस्तीन ऊपर चढ़ी हुई
posture-7 = चित्र: कटा हुआ बोलने का निशान
elapsed = बीता हुआ समय
cuff-column = नली में स्तंभ: { $pressure } { $unit }, पैमाना 0 से { $most } तक
source-of = स्रोत: { $source }

## What must not wait; the limits and the words are those of the guidelines named with them

alert-very-high-measure-again = एक नाप बहुत ज़्यादा है। 5 मिनट शांति से बैठें और फिर नापें। अगर तब भी ऊपर का अंक { $systolic } या ज़्यादा हो, या नीचे का अंक { $diastolic } या ज़्यादा हो, तो आज ही अपने क्लिनिक या आपात चिकित्सा सेवा से बात करें।
alert-very-high-contact-today = दोबारा नापा गया और अब भी बहुत ज़्यादा है। आज ही अपने क्लिनिक या आपात चिकित्सा सेवा से बात करें।
alert-very-high-emergency = एक नाप बहुत ज़्यादा है, और लक्षण लिखे गए हैं। अभी आपातकालीन नंबर पर फ़ोन करें। दबाव घटने की राह न देखें।
alert-very-high-tell-clinic = एक बहुत ज़्यादा नाप के बाद की नापें साफ़ तौर पर कम हैं। सब क्लिनिक के पन्ने पर हैं।
alert-very-high-in-pregnancy-contact-now = एक नाप बहुत ज़्यादा है। अभी अपने प्रसूति केंद्र या क्लिनिक से बात करें, और 15 मिनट बाद फिर नापें। अगर तब भी ऊपर का अंक { $systolic } या ज़्यादा हो, या नीचे का अंक { $diastolic } या ज़्यादा हो, तो यह आपात स्थिति है।
alert-very-high-in-pregnancy-emergency = यह बहुत ज़्यादा है, और बना हुआ है या लक्षण लिखे गए हैं। अभी आपातकालीन नंबर पर फ़ोन करें। दबाव घटने की राह न देखें।
alert-very-high-in-pregnancy-tell-clinic = एक बहुत ज़्यादा नाप के बाद की नापें साफ़ तौर पर कम हैं। सब क्लिनिक के पन्ने पर हैं।
alert-high-in-pregnancy-measure-again = गर्भावस्था और प्रसव के बाद के हफ़्तों के लिए एक नाप ज़्यादा है। शांति से बैठें और 15 मिनट बाद फिर नापें। अगर तब भी ऊपर का अंक { $systolic } या ज़्यादा हो, या नीचे का अंक { $diastolic } या ज़्यादा हो, तो आज ही अपने प्रसूति केंद्र या क्लिनिक से बात करें।
alert-high-in-pregnancy-contact-today = दोबारा नापा गया और गर्भावस्था और प्रसव के बाद के हफ़्तों के लिए अब भी ज़्यादा है। आज ही अपने प्रसूति केंद्र या क्लिनिक से बात करें।
alert-high-in-pregnancy-contact-now = गर्भावस्था और प्रसव के बाद के हफ़्तों के लिए यह ज़्यादा है, और लक्षण लिखे गए हैं। अभी अपने प्रसूति केंद्र या क्लिनिक से बात करें।
alert-very-low-measure-again = एक नाप बहुत कम है। बैठ या लेट जाएँ, और 5 मिनट बाद फिर नापें। अगर तब भी { $systolic } से कम हो, या कमज़ोरी, चक्कर या बेचैनी लगे, तो अभी अपने क्लिनिक या आपात चिकित्सा सेवा से बात करें।
alert-very-low-contact-now = यह बहुत कम है, और दोबारा नापा गया या लक्षण लिखे गए हैं। बैठ या लेट जाएँ, और अभी अपने क्लिनिक या आपात चिकित्सा सेवा से बात करें।
alert-low-measure-again = एक नाप कम है। बैठ या लेट जाएँ, और 5 मिनट बाद फिर नापें। अगर कमज़ोरी, चक्कर या बेचैनी लगे, तो आज ही अपने क्लिनिक या आपात चिकित्सा सेवा से बात करें।
alert-low-tell-clinic = दोबारा नापा गया और अब भी कम है। तबीयत ठीक हो तो अगली बार क्लिनिक को बताएँ। कमज़ोरी, चक्कर या बेचैनी लगे तो बैठ या लेट जाएँ और यहाँ लिखें।
alert-low-contact-today = यह कम है, और लक्षण लिखे गए हैं। बैठ या लेट जाएँ, और आज ही अपने क्लिनिक या आपात चिकित्सा सेवा से बात करें।
alert-pulse-contact-now = इस नाप में नब्ज़ बहुत { $speed ->
    [slow] धीमी
   *[fast] तेज़
} है: { $pulse }। अभी अपने क्लिनिक या आपात चिकित्सा सेवा से बात करें। बेहोशी हो तो आपातकालीन नंबर पर फ़ोन करें।
alert-pulse-note = इस नाप में नब्ज़ { $speed ->
    [slow] धीमी
   *[fast] तेज़
} है: { $pulse }। ऐसी ही रहे तो अपने क्लिनिक को बताएँ, और तबीयत ख़राब लगे तो तुरंत।
alert-symptoms-emergency = अंक कुछ भी कहें, लक्षण पहले आते हैं। लिखे गए लक्षणों के साथ अभी आपातकालीन नंबर पर फ़ोन करें।
alert-symptoms-contact-now = अंक कुछ भी कहें, लक्षण पहले आते हैं। लिखे गए लक्षणों के साथ अभी अपने क्लिनिक, प्रसूति केंद्र या आपात चिकित्सा सेवा से बात करें।
alert-symptoms-contact-today = अंक कुछ भी कहें, लक्षण पहले आते हैं। अगर कमज़ोरी, चक्कर या बेचैनी लगे तो बैठ या लेट जाएँ, और आज ही अपने क्लिनिक या आपात चिकित्सा सेवा से बात करें।
alert-symptoms-ask = ऐसे शब्द लिखे गए हैं जो सूची में नहीं हैं। क्या यह इन लक्षणों में से कोई है?
alert-irregular-pulse = मशीन ने कई बार अनियमित नब्ज़ बताई है। अपने क्लिनिक को बताएँ; यह क्या है, यह केवल ईसीजी बता सकता है।
emergency-if = अगर सीने में दर्द, साँस फूलना, चेहरा लटकना, अचानक कमज़ोरी या सुन्नपन, बोलने में कठिनाई, दिखना बंद होना, भ्रम, दौरा, सिर या पीठ में तेज़ दर्द हो, या बेहोशी आए, तो अभी आपातकालीन नंबर पर फ़ोन करें।
pregnancy-if = तेज़ सिरदर्द, धुँधला या चमकता दिखना, पसलियों के ठीक नीचे तेज़ दर्द, उल्टी, या चेहरे, हाथों या पैरों में अचानक सूजन हो, तो अंक कुछ भी कहें, तुरंत अपने प्रसूति केंद्र से बात करें।
no-extra-medicine = किसी नाप के कारण कोई अतिरिक्त दवा न लें।

## These days: the period, day by day

title-week = इन दिनों
period-line = { $days }, { $protocol } के नियम से।
period-day = { $days } में से दिन { $day }
column-day = दिन
average = औसत
average-exact = एक दशमलव के साथ { $average },
mean-mornings = सुबह { $mean }, { $n ->
    [one] { $n } नाप
   *[other] { $n } नापें
}
mean-evenings = शाम { $mean }, { $n ->
    [one] { $n } नाप
   *[other] { $n } नापें
}
progress = इन दिनों के सत्र
place-complete = पूरा
place-begun = शुरू हुआ, पूरा नहीं
place-missed = कोई नहीं आया
place-due = अभी करना है
place-to-come = आगे होगा
picture-title = { $who } की नापें, { $days }
picture-readings = { $counted } गिनी गईं, { $marked } गिनी गईं और उनके बारे में कुछ जानना है, { $aside } अलग रखी गईं। तालिका में हर मान है।
picture-readings-say = हर खड़ी रेखा एक नाप है, ऊपर वाली संख्या से नीचे वाली तक, mmHg में। हर दिन में सुबह बाएँ है और शाम दाएँ। टूटी रेखाएँ: वह स्तर जिससे औसत की तुलना होती है।
picture-points = { $n ->
    [one] एक { $every ->
        [day] दिन
        [week] सप्ताह
       *[month] महीने
    }
   *[other] { $n } { $every ->
        [day] दिनों
        [week] सप्ताहों
       *[month] महीनों
    }
} के औसत, पहला { $first }, आख़िरी { $last } mmHg। क्लिनिक में ली गई नापें: { $clinic }। दवा में बदलाव: { $changes }।
picture-points-say = बिंदुओं की हर जोड़ी एक { $every ->
    [day] दिन
    [week] सप्ताह
   *[month] महीने
} का औसत है, ऊपर और नीचे की संख्या, mmHg में; बिंदु से होकर जाने वाली रेखा सबसे कम नाप से सबसे ज़्यादा नाप तक जाती है। खुले बिंदु में तीन से कम दिनों की नापें हैं।
not-begun = अभी शुरू नहीं हुआ
not-begun-say = दिन तब शुरू होते हैं जब आप कहें। तब तक कुछ छूटता नहीं, और जो नाप फिर भी आए वह रखी जाती है।
period-over = ये दिन पूरे हो गए।
period-over-next = पन्ना अपने क्लिनिक ले जाएँ। जब क्लिनिक कहे, तब फिर शुरू करें।
sheet-open-week = क्लिनिक के लिए पन्ना
title-household = आज सब लोग
household-waiting = { $n ->
    [one] { $n } सवाल का जवाब बाकी है।
   *[other] { $n } सवालों के जवाब बाकी हैं।
}
household-missed = { $n ->
    [0] इन दिनों का कोई सत्र नहीं छूटा।
    [one] इन दिनों का { $n } सत्र छूटा।
   *[other] इन दिनों के { $n } सत्र छूटे।
}
household-average = औसत { $average } mmHg
household-before = उससे पहले { $average } mmHg
household-last = आख़िरी नाप: { $moment }
household-told = किसे बताया गया
household-told-what = { $kind ->
    [urgent] ऐसी नाप या लक्षण जो रुक नहीं सकते
    [session-due] नापने का समय
    [half-done] सत्र आधा हुआ
    [missed] सत्र छूट गया
    [period-finished] दिन पूरे हो गए
    [after-birth] गर्भावस्था के स्तर समाप्त हुए
   *[other] कुछ और
}, “{ $route }” से, { $moment }: { $standing ->
    [sent] बताया गया
   *[not-sent] नहीं बताया जा सका
}
average-of = { $days } दिनों की { $n } नापों का
average-interval = बहुत संभव है कि यह ऊपर { $systolic } और नीचे { $diastolic } के बीच हो।
interval-range = { $low } से { $high }
average-not-yet = अभी औसत नहीं
average-not-yet-say = औसत तब दिखता है जब भरोसे लायक नापें हो जाएँ। अभी तक { $expected } में से { $sessions } बार नापा गया है।
threshold-line = { $systolic }/{ $diastolic } mmHg ({ $source }) से तुलना: औसत { $where ->
    [above] इसके बराबर या ऊपर है। इसका अर्थ केवल डॉक्टर बता सकते हैं।
   *[below] इससे नीचे है।
}
target-by = { $said } ने चुना।
target-source = स्रोत: { $said }।
target-line = क्लिनिक का लक्ष्य { $systolic }/{ $diastolic } mmHg से नीचे है: औसत { $where ->
    [below] उससे नीचे है।
   *[not-below] उससे नीचे नहीं है।
}
superseded-by = इस नियम की जगह अब यह है: { $by }।
labels-off = इस व्यक्ति पर कोई सीमा लागू नहीं की जाती।
caution-average = यह औसत है, रोग की पहचान नहीं। इसके कारण कोई दवा शुरू, बंद या बदलें नहीं।
session-missed = नहीं आई
session-to-come = बाकी है
session-due = अभी समय है
sessions-there = { $expected } में से { $sessions } बार
readings-set-aside = { $n ->
    [0] कोई नाप अलग नहीं रखी गई।
    [one] { $n } नाप अलग रखी गई; वह कारण के साथ तालिका में है।
   *[other] { $n } नापें अलग रखी गईं; वे कारण के साथ तालिका में हैं।
}
medicine-changed-within = इन दिनों में दवा बदली गई ({ $days }): औसत में पहले और बाद दोनों के दिन हैं।
balance-even = { $mornings } सुबहें और { $evenings } शामें।
balance-uneven = बराबर नहीं: { $mornings } सुबहें और { $evenings } शामें; बराबर औसत में कम से कम { $mornings-min } सुबहें और { $evenings-min } शामें होती हैं।
balance-sittings = हर बैठक को बराबर वज़न देने पर यह { $mean } होता।
interval-too-wide = दिन बहुत कम हैं या बहुत अलग हैं, इसलिए यह नहीं कहा जा सकता कि औसत कितना अलग हो सकता है
outside-sessions = { $n ->
    [one] { $n } नाप किसी भी बारी के समय में नहीं है और इस औसत में नहीं है; उसके साथ औसत { $with } होता।
   *[other] { $n } नापें किसी भी बारी के समय में नहीं हैं और इस औसत में नहीं हैं; उनके साथ औसत { $with } होता।
}
shapes = भरा हुआ: गिनी गई। खोखला: गिनी गई, एक बात ध्यान देने की है। कटा हुआ: अलग रखी गई, औसत में नहीं।
table-week = नापें mmHg में, ऊपर का अंक / नीचे का अंक

## Earlier: every reading

title-earlier = पहले के
table-earlier = { $month } की नापें, ऊपर का अंक / नीचे का अंक
column-time = समय
column-values = mmHg
column-pulse = नब्ज़
months = महीने
span = कितने समय का
span-year = एक साल, सप्ताह दर सप्ताह
span-all = सभी साल, महीने दर महीने
picture-tap = { $every ->
    [day] दिन
    [week] सप्ताह
   *[month] महीना
} खोलने के लिए उसे छुएँ।
picture-clinic = गुणा के निशान, क्लिनिक में: { $readings }।
picture-changes = खड़ी टूटी रेखाएँ, दवा बदली गई: { $days }।
table-parts = यही तालिका में, { $every ->
    [day] दिन दर दिन
    [week] सप्ताह दर सप्ताह
   *[month] महीने दर महीने
}
column-from = कब से
column-readings = नापें
no-readings = इस महीने कोई नाप नहीं।
no-readings-yet = अभी कोई नाप नहीं आई। पहली नाप यहाँ अपने आप दिखेगी।
newer-month = बाद का: { $month }
older-month = पहले का: { $month }

## For the clinic

title-sheet = डॉक्टर के लिए
sheet-say = एक पन्ना जो डॉक्टर एक मिनट में पढ़ लें, फिर हर नाप। यह इसी क्षण बनता है और केवल आपके साथ घर से बाहर जाता है।
sheet-from = पहला दिन
sheet-days = कितने दिन
sheet-default = ख़ाली छोड़ें: जो अवधि चल रही है, नहीं तो पिछली।
sheet-open = दिखाएँ
sheet-pdf = PDF, A4
sheet-pdf-letter = PDF, US Letter
sheet-none = पन्ने पर रखने को अभी कुछ नहीं है।
sheet-list-all = हर नाप दिखाएँ, 31 से ज़्यादा दिनों की भी
sheet-too-many = { $n } नापें पन्ने पर आने वाली ({ $most }) से ज़्यादा हैं: कम दिन माँगें।
empty-days = { $who } की { $from } से { $to } तक कोई नाप नहीं है; { $near }
empty-at-all = अभी कोई भी नाप नहीं है
empty-before = उससे पहले की आख़िरी { $before } को थी
empty-after = उसके बाद की पहली { $after } को थी
empty-between = सबसे पास की { $before } और { $after } को हैं

## The sheet for the clinic

short-date = { $day } { $month } { $year }
short-day = { $weekday }, { $date }
day-of-month = { $day } { $month }
plot-day = { $weekday } { $day } { $month }
list-and = { $most } और { $last }
not-stated = नहीं बताया गया
unit-d = दिन
unit-h = घंटे
unit-min = मिनट
unit-s = सेकंड
arms-between = { $min } से { $max } सेमी की बाँहें
arms-from = { $min } सेमी से बड़ी बाँहें
arms-to = { $max } सेमी तक की बाँहें
sheet-number = पन्ना { $number }, कुल { $all }
sheet-letters-missing = जिस कंप्यूटर ने यह फ़ाइल बनाई, उसके किसी फ़ॉन्ट में कुछ अक्षर नहीं हैं: उनकी जगह “?” है। HTML वाला पन्ना उन्हें दिखाता है, और यहाँ से नक़ल किया गया पाठ भी।
sheet-no-font = इस कंप्यूटर के किसी फ़ॉन्ट में इस पन्ने के अक्षर ({ $scripts }) नहीं हैं, इसलिए PDF नहीं बनी। सर्वर पर { $packages } लगाएँ, या पन्ना वैसे ही लें जैसे यहाँ दिखता है।
sheet-title = { $who } का घर पर रक्तचाप
sheet-whose = { $about }। { $days }। नापने का नियम: { $title } ({ $name })।
sheet-born = जन्म { $born }
sheet-record-number = रिकॉर्ड नंबर { $number }
sheet-left-arm = बायाँ हाथ
sheet-right-arm = दायाँ हाथ
sheet-average = { $days ->
    [one] { $days } दिन
   *[other] { $days } दिनों
} की { $n ->
    [one] { $n } नाप
   *[other] { $n } नापों
} का औसत{ $pulse ->
    [none] ।
   *[other] , नब्ज़ { $pulse } प्रति मिनट।
}
sheet-interval = 95 % अंतराल सिस्टोलिक में { $systolic } और डायस्टोलिक में { $diastolic } है।
sheet-no-average = कोई औसत नहीं
sheet-no-average-say = औसत के लिए काफ़ी नापें नहीं हैं ({ $there })। कोई औसत नहीं दिखाया जाता, क्योंकि जो संख्या दिखती है, वह काम में ली जाती है।
sheet-none-counts = कोई नहीं गिनी गई
sheet-no-threshold = कोई सीमा लागू नहीं की जाती: { $why }
sheet-threshold-reached = { $limits } mmHg की सीमा पर या उससे ऊपर: { $which }। इसका अर्थ केवल चिकित्सक बता सकते हैं।
sheet-threshold-below = { $limits } mmHg की सीमा से नीचे।
sheet-threshold-would = सीमा { $limits } mmHg होती।
sheet-threshold-exact = ठीक-ठीक { $which ->
    [systolic] सिस्टोलिक
   *[diastolic] डायस्टोलिक
} औसत { $exact } है, { $limit } से नीचे।
sheet-threshold-source = सीमा: { $source }
sheet-set-by-clinic = इस व्यक्ति के क्लिनिक की तय की हुई
sheet-band = दिशानिर्देश का अपना शब्द: { $name } ({ $source })।
sheet-go-on = सीमा के इतने पास होने पर नियम { $days } दिनों तक चलता है।
reached-systolic = सिस्टोलिक
reached-diastolic = डायस्टोलिक
reached-morning-systolic = सुबह का सिस्टोलिक
reached-morning-diastolic = सुबह का डायस्टोलिक
reached-evening-systolic = शाम का सिस्टोलिक
reached-evening-diastolic = शाम का डायस्टोलिक
sheet-caution = यह औसत है, रोग की पहचान नहीं। संख्याएँ चाहे जो कहें, लक्षण पहले आते हैं। इसके कारण कोई दवा शुरू, बंद या बदली न करें। बंद पड़ा प्रोग्राम कोई चेतावनी नहीं देता। { $moment } को बना।
sheet-trouble = इसे बनाते समय: { $what }, { $since } से।
sheet-trouble-since-unknown = इसे बनाते समय: { $what }, कब से, किसी को पता नहीं।
trouble-not-running = नापें नहीं पहुँच रही थीं, सुनने वाला प्रोग्राम नहीं चल रहा था
trouble-no-answer = नापें नहीं पहुँच रही थीं, सुनने वाला प्रोग्राम जवाब नहीं दे रहा था
trouble-no-bluetooth = नापें नहीं पहुँच रही थीं, ब्लूटूथ सेवा नहीं चल रही थी
trouble-no-adapter = नापें नहीं पहुँच रही थीं, ब्लूटूथ एडाप्टर नहीं था
trouble-off = नापें नहीं पहुँच रही थीं, ब्लूटूथ एडाप्टर बंद था
trouble-radio = नापें नहीं पहुँच रही थीं: { $detail }
trouble-disk = नापें रखी नहीं जा रही थीं: { $detail }
trouble-clock = यह पक्का नहीं था कि सर्वर की घड़ी सही है
trouble-silent = मशीन { $detail } अपनी आदत से ज़्यादा देर से चुप थी
trouble-delivery = नापें क्लिनिक के सर्वर तक नहीं पहुँच रही थीं: { $detail }
trouble-not-delivering = नापें क्लिनिक के सर्वर पर जाने की राह देख रही थीं, पहुँचाने वाला प्रोग्राम नहीं चल रहा था
sheet-raised = { $about }, { $moment }
about-symptoms = लक्षण
about-very-high = बहुत ज़्यादा
about-very-high-in-pregnancy = गर्भावस्था में बहुत ज़्यादा
about-high-in-pregnancy = गर्भावस्था में ज़्यादा
about-very-low = बहुत कम
about-low = कम
about-pulse = नब्ज़
about-irregular-pulse = अनियमित नब्ज़
sheet-urgent-told = घरवालों से जो कहा गया, वह “{ $heading }” के नीचे है।
sheet-urgent-more = इस तरह की { $n } और बातें, सब “{ $heading }” के नीचे।
sheet-answered = { $moment }: { $what }।
sheet-answered-by = { $moment }: { $what }; बताने वाले: { $by }।
sheet-settled = बाद की नापों से यह सुलझ गया, { $moment }।
sheet-overtaken = { $moment } को इसकी जगह दूसरी बात आई।
sheet-unanswered = किसी ने नहीं बताया कि क्या किया गया।
sheet-low-diastolic = कम डायस्टोलिक: { $all ->
    [one] { $all } नाप
   *[other] { $all } नापों
} में से { $n } में डायस्टोलिक { $limit } mmHg से नीचे है, उनमें से { $very-low } में { $very-low-limit } से नीचे; सबसे कम { $lowest } है। इसके लिए किसी को सावधान नहीं किया गया।
sheet-standing = खड़े होने पर, { $say } स्रोत: NICE 2023 और ESC 2024 में 20/10 की गिरावट का नाम है; मिनट आराम की आख़िरी नाप से गिने जाते हैं।
table-averages = औसत mmHg में, डायस्टोलिक के ऊपर सिस्टोलिक
column-systolic-95 = 95 % सिस्टोलिक
column-diastolic-95 = 95 % डायस्टोलिक
column-days = दिन
row-all-days = सब दिनों का
row-protocol-without-first = नियम से, पहले दिन के बिना
row-protocol-all-days = नियम से, सब दिनों का
row-without-first = पहले दिन के बिना
row-mornings = सुबहें
row-evenings = शामें
row-first-mornings = हर सुबह की पहली नाप
row-standing = खड़े होकर, औसत में नहीं
row-lying = लेटकर, औसत में नहीं
row-night = रात में, औसत में नहीं
below-plot-stems = हर नाप सिस्टोलिक से डायस्टोलिक तक एक पतली रेखा है। अलग रखी गई नापें निचले किनारे पर छोटी रेखाएँ हैं; गिनी गई और चिह्नित का अंतर तालिका में है।
below-plot-days = हर दिन में सुबह बाईं ओर, शाम दाईं ओर है; जो बार छूट गई, उसकी जगह ख़ाली है।
below-plot-dashed = टूटी रेखा: सीमा।
below-plot-dashed-across = बाएँ से दाएँ टूटी रेखा: सीमा।
below-plot-left-out = { $n ->
    [one] { $n } नाप, जिसका समय या संभव मान नहीं है, केवल तालिका में है।
   *[other] { $n } नापें, जिनका समय या संभव मान नहीं है, केवल तालिका में हैं।
}
below-plot-every = हर बिंदु एक { $every ->
    [day] दिन
    [week] सप्ताह
   *[month] महीने
} का माध्य है; उसकी रेखा गिनी गई नापों में सबसे कम से सबसे ज़्यादा तक जाती है।
below-plot-aside = { $n ->
    [one] { $n } नाप अलग रखी गई: नीचे गिनी है, बनाई नहीं।
   *[other] { $n } नापें अलग रखी गईं: नीचे गिनी हैं, बनाई नहीं।
}
sheet-completeness = { $expected } में से { $sessions } बार। { $n ->
    [one] { $n } नाप
   *[other] { $n } नापें
}: { $counted } गिनी गईं, उनमें से { $marked } चिह्नित{ $marked-why }; { $aside } अलग रखी गईं{ $aside-why }।
sheet-nobodys = { $n ->
    [one] इन दिनों की { $n } और नाप अभी किसी की नहीं है।
   *[other] इन दिनों की { $n } और नापें अभी किसी की नहीं हैं।
}
sheet-mornings-and-evenings = सुबहें और शामें
sheet-heavy-ticks = दाईं ओर की मोटी रेखाएँ माध्य हैं।
sheet-every-day = दिन-दिन करके
sheet-every-week = सप्ताह-सप्ताह करके
sheet-every-month = महीने-महीने करके
sheet-sure = औसत कितना पक्का है
sheet-to-look-at = चिकित्सक के देखने के लिए
sheet-complete = ये दिन कितने पूरे रहे
sheet-vary = नापें कितनी बदलती हैं
sheet-reasons = नापें क्यों चिह्नित या अलग रखी गईं
sheet-readings = सब नापें
sheet-noted = इन दिनों में लिखा गया
sheet-monitor = मशीन
sheet-clocks = घड़ियाँ
sheet-protocol = नापने का नियम
sheet-to-bear-in-mind = ध्यान में रखने की बातें
sheet-interval-means = अंतराल में दिन को दोहराई जाने वाली इकाई माना गया है, क्योंकि एक दिन की नापें एक-दूसरे जैसी होती हैं। मशीन की ग़लती इसमें नहीं आती। सीमा से ठीक-ठीक औसत की तुलना होती है, पूर्णांक किए हुए की कभी नहीं।
sheet-carried-over = यह भी नहीं पता कि एक दिन का असर अगले पर होता है या नहीं: अगर हर दिन पिछले दिन जैसा होता, माने हुए सहसंबंध { $assumed } के साथ, तो अंतराल सिस्टोलिक में { $systolic } और डायस्टोलिक में { $diastolic } होता। एक सप्ताह से यह पता नहीं चल सकता।
beside-nothing-noted = इन दिनों में कोई लक्षण और दवा का कोई बदलाव नहीं लिखा गया।
beside-medicine = दवा: { $changes }। इन दिनों में कोई लक्षण नहीं लिखा गया।
beside-symptoms = लक्षण: { $symptoms }। इन दिनों में दवा का कोई बदलाव नहीं लिखा गया।
beside-both = लक्षण: { $symptoms }। दवा: { $changes }।
beside-clinic-none = क्लिनिक की कोई नाप नहीं लिखी गई, पहले के आठ सप्ताह में भी नहीं।
beside-clinic = क्लिनिक में: { $readings }।
beside-changed = बदली गई
beside-on = { $what }, { $day } को
beside-more = और { $n } और
beside-before-none = इससे पहले के कोई दिन नहीं हैं।
beside-before = इससे पहले के दिन ({ $days }, { $protocol } से): { $average } mmHg, { $n ->
    [one] { $n } नाप
   *[other] { $n } नापों
} से।
beside-before-too-few = इससे पहले के दिनों ({ $days }, { $protocol } से) में औसत के लिए बहुत कम नापें थीं।
beside-measured-with = { $monitors } से नापा गया; { $arm ->
    [left] बाएँ हाथ पर
    [right] दाएँ हाथ पर
   *[none] ऐसे हाथ पर जो किसी ने नहीं बताया
}, { $around ->
    [none] घेरा नहीं बताया गया।
   *[other] घेरा { $around } सेमी।
}
beside-upper-arm = ऊपरी बाँह
beside-wrist = कलाई
beside-site-not-stated = कहाँ पहनी जाती है, नहीं बताया गया
beside-validation = जाँच-प्रमाण, जैसा बताया गया: { $listed }
beside-validation-none = कोई जाँच-प्रमाण नहीं बताया गया
beside-cuff-not-stated = कफ़ का नाप नहीं बताया गया
beside-cuff = कफ़: { $arms }
sheet-week-of = { $day } का सप्ताह
column-mean = माध्य
column-systolic = सिस्टोलिक
column-diastolic = डायस्टोलिक
column-on-days = इतने दिनों में
table-every = हर { $every ->
    [day] दिन
    [week] सप्ताह
   *[month] महीने
} की गिनी गई नापें, mmHg में: उनका माध्य, और सबसे कम से सबसे ज़्यादा तक। इनमें से कोई माध्य नियम से निकला औसत नहीं है।
sheet-not-listed = इतने दिनों की { $n ->
    [one] { $n } नाप
   *[other] { $n } नापें
} एक-एक करके नहीं लिखी गईं; कितनी चिह्नित या अलग रखी गईं और क्यों, यह ऊपर है। सब पाने के लिए: quietcuff report --readings.
column-morning = सुबह
column-evening = शाम
column-other = दूसरे समय
table-sessions = { $by ->
    [month] महीने
   *[day] दिन
} और समय के हिसाब से नापें: { $expected } में से { $sessions } बार। { $balance }
cell-none = कोई नहीं
cell-counted = { $n } गिनी गईं
cell-aside = { $n } अलग रखी गईं
cell-both = { $counted } गिनी गईं, { $aside } अलग रखी गईं
cell-marked = चिह्नित
cell-own-mean = अपने अलग माध्य में
cell-outside = तय समय के बाहर
cell-left-out = नियम से छोड़ी गई
cell-no-value = कोई मान नहीं
cell-monitor = मशीन
cell-person = व्यक्ति
table-spread = फैलाव mmHg में, विचरण गुणांक प्रतिशत में
column-averaged = औसत में ली गई नापें
column-n = संख्या
column-sd = मानक विचलन
column-cv = विचरण गुणांक
column-arv = औसत वास्तविक बदलाव
column-range = परास
row-all-systolic = सब, सिस्टोलिक
row-all-diastolic = सब, डायस्टोलिक
row-first-systolic = हर सुबह की पहली, सिस्टोलिक
row-first-diastolic = हर सुबह की पहली, डायस्टोलिक
sheet-vary-say = केवल जानकारी के लिए, फ़ैसला नहीं: बदलाव को कैसे नापा जाए, इस पर सहमति नहीं है, और किसी अध्ययन से यह नहीं दिखता कि उसे कम करने से लाभ होता है (ESC 2024, खंड 5.6)। औसत वास्तविक बदलाव: एक के बाद एक ली गई नापों के अंतर का माध्य, चिह्न के बिना (Mena et al., J Hypertens 2005;23:505)।
sheet-effect = ज्ञात असर mmHg में, दिखाया जाता है और कभी घटाया नहीं जाता: सिस्टोलिक { $systolic }, डायस्टोलिक { $diastolic } ({ $source })।
effect-none = कोई पक्का असर नहीं
effect-higher = { $by } ज़्यादा
effect-lower = { $by } कम
effect-between = { $lower } कम से { $higher } ज़्यादा
effect-about = लगभग { $by } का अंतर
effect-up-to = { $by } तक का अंतर
effect-too-small = बहुत छोटा: { $by } ज़्यादा
effect-too-large = बहुत बड़ा: { $by } कम
basis-observed = देखा गया
basis-reported = बताया गया
basis-on-record = दर्ज है
sheet-reasons-none = कोई नहीं।
table-reasons = कारण, कितनी बार, और हर एक कैसे पता है
column-reason = कारण
column-known = कैसे पता
column-says = क्या कहता है
column-source = स्रोत
column-part = समय
column-disposition = क्या हुआ
column-why = क्यों
column-clock-off = घड़ी का अंतर
part-morning = सुबह
part-evening = शाम
part-other = दूसरा
table-readings = { $n ->
    [one] { $n } नाप
   *[other] { $n } नापें
}, घर की घड़ी से; डायस्टोलिक के ऊपर सिस्टोलिक, mmHg में, जहाँ दूसरी इकाई न लिखी हो
clock-slow = { $by } पीछे
clock-fast = { $by } आगे
clock-was = घड़ी { $one } थी
clock-up-to = शून्य से { $other } तक
clock-between = घड़ी { $one } और { $other } के बीच थी
column-when = कब
column-about = किसके बारे में
column-what = क्या
table-noted = घरवालों ने जो लिखा; किसी का कहा हुआ, नापा हुआ नहीं
sheet-due = { $date } से करना है: { $task } ({ $because })।
because-dropped = { $date } को गिर गई थी
because-badly-stored = { $date } को ठीक से नहीं रखी गई थी
because-many-people = { $date } को एक ही दिन में बहुत लोगों ने इस्तेमाल की
because-disagrees = { $date } को क्लिनिक की नापों से मेल नहीं खाई
because-scatters = { $date } से इसकी नापें बहुत बदलने लगी हैं
because-checked = आख़िरी जाँच { $date } को
because-never-checked = कभी जाँची नहीं गई, { $date } से काम में
because-unknown = किसी ने नहीं बताया कि कब ख़रीदी या जाँची गई
because-years = { $since } से गिनकर { $years } साल से काम में
because-battery = { $date } को इसकी बैटरी { $level } % पर थी
fact-worn = पहनी जाती है
fact-on-upper-arm = ऊपरी बाँह पर
fact-on-wrist = कलाई पर
fact-made = निर्माता और मॉडल
fact-serial = क्रम संख्या
fact-validation = जाँच-प्रमाण
fact-validated = किसी व्यक्ति ने बताया: { $listed }
fact-not-validated = किसी ने कोई नहीं बताया
fact-cuff = कफ़
fact-arm = व्यक्ति की बाँह
fact-around = घेरा { $cm } सेमी
fact-in-use = कब से काम में
fact-checked = आख़िरी जाँच
fact-never-checked = कोई नहीं लिखी गई
fact-falls = तब से कितनी बार गिरी
column-fact = बात
column-on-record = दर्ज है
table-monitor = मशीन { $monitor }, इन दिनों में { $n ->
    [one] { $n } नाप
   *[other] { $n } नापें
}
column-monitor = मशीन
column-time-known = समय कैसे पता है
column-correction = सुधार
table-clocks = हर नाप का समय कैसे पता है, और क्या सुधारा गया
time-by-clock = उसकी समय-मुहर, मशीन की अपनी घड़ी से मिलाकर
time-by-offset = उसकी समय-मुहर, उस घड़ी के आख़िरी ज्ञात अंतर से खिसकाकर
time-by-stamp = उसकी समय-मुहर जैसी है; उस घड़ी के बारे में इससे अच्छा कुछ पता नहीं
time-by-receipt = उसके पहुँचने का क्षण
time-by-word = किसी व्यक्ति का कहा
time-by-nothing = कुछ नहीं: पता नहीं है
column-rule = नियम
column-value = मान
column-read = पढ़ा गया
table-rules = { $name } के नियम, और हर स्रोत कहाँ तक पढ़ा गया
rule-days = दिन
rule-sessions = दिन में कब-कब
rule-readings = हर बार नापें
rule-gap = उनके बीच कम से कम समय
rule-not-asked = नहीं माँगा जाता
rule-asked = माँगा जाता है
rule-asked-before-bed = माँगा जाता है; वहीं परखा जाता है जहाँ सोने जाना लिखा गया
rule-days-min = औसत के लिए कम से कम दिन
rule-readings-min = औसत के लिए कम से कम नापें
rule-mornings-min = बराबर औसत की सुबहें
rule-evenings-min = बराबर औसत की शामें
rule-at-least = कम से कम { $n }
rule-settling = दवा बदलने के बाद ठहरने का समय
rule-of-days = { $n } दिन
rule-first-day = पहला दिन
rule-left-out = छोड़ा जाता है
rule-averaged = औसत में लिया जाता है
rule-threshold = इसकी सीमा
rule-target = इलाज में लक्ष्य, { $name }
rule-below = { $limits } से नीचे; यहाँ लागू नहीं
tie-not-just-woken = उठते ही नहीं
tie-within-hour-of-waking = उठने के एक घंटे के अंदर
tie-before-breakfast = नाश्ते से पहले
tie-before-medicines = दवाओं से पहले
tie-before-dinner = रात के खाने से पहले
tie-before-bed = सोने से पहले
read-in-full = पूरा
read-in-a-summary = सारांश में
read-from-memory = याद से, पुष्टि नहीं
read-common-practice = आम चलन
read-own-choice = हमारा चुनाव
read-clinic = क्लिनिक का
mind-no-threshold = गर्भावस्था में, बच्चों के लिए, एट्रियल फ़िब्रिलेशन में या डायलिसिस वाले हाथ पर कोई सीमा नहीं, जब तक चिकित्सक ने तय न की हो।
mind-validation = मशीन का जाँच-प्रमाण है या नहीं और कफ़ ठीक बैठता है या नहीं, यह किसी व्यक्ति को देखना है।
mind-nothing-corrected = किसी कमी के कारण कोई मान सुधारा नहीं गया। जो अलग रखा या चिह्नित किया गया, वह लिखा है, कभी हटाया नहीं गया।
mind-reported = जिन कारणों के शुरू में “बताया गया” है, वे किसी व्यक्ति का कहा है, मशीन का नहीं।
plot-title = { $who } का रक्तचाप, { $days }
plot-threshold = सीमा
plot-pulse = नब्ज़
plot-pulse-a-minute = नब्ज़/मिनट
lane-morning = सुबह
lane-evening = शाम
lane-other = दूसरा
plot-half = { $slot ->
    [morning] सुबहें
   *[evening] शामें
}: माध्य { $mean }, { $n ->
    [one] { $n } नाप
   *[other] { $n } नापें
}
plot-half-no-mean = { $slot ->
    [morning] सुबहें
   *[evening] शामें
}: कोई माध्य नहीं, नापें बहुत कम
plot-says-counts = { $days }: { $counted } गिनी गईं, { $marked } चिह्नित और { $aside } अलग रखी गईं।
plot-says-from-to = औसत में लिए गए सिस्टोलिक { $low-systolic } से { $high-systolic }, डायस्टोलिक { $low-diastolic } से { $high-diastolic } mmHg।
plot-says-dashed = टूटी रेखाएँ { $limits } की सीमा पर।
plot-says-table = सब नापों की तालिका में हर मान है।
plot-says-table-of-parts = उनकी तालिका में हर मान है।
plot-says-parts = { $days }: गिनी गई नापों वाले { $n ->
    [one] { $n } { $every ->
        [day] दिन
        [week] सप्ताह
       *[month] महीना
    }
   *[other] { $n } { $every ->
        [day] दिन
        [week] सप्ताह
       *[month] महीने
    }
}।
plot-says-first-last = पहला माध्य { $first }, आख़िरी { $last } mmHg है।
plot-says-lowest-highest = सबसे कम माध्य { $lowest }, सबसे ज़्यादा { $highest } mmHg है।
key-mean = एक { $every ->
    [day] दिन
    [week] सप्ताह
   *[month] महीने
} का माध्य, सबसे कम से सबसे ज़्यादा
key-few-days = 3 से कम दिनों में
key-clinic = क्लिनिक में
key-medicine = दवा बदली गई

## The program's own protocols; names of guidelines stay as they are

protocol-seven-days-morning-and-evening = सात दिन, सुबह और शाम
protocol-two-weeks-morning-and-evening = दो सप्ताह, सुबह और शाम
protocol-one-day-a-week-for-twelve-weeks = बारह सप्ताह तक सप्ताह में एक दिन
protocol-esh-2023-from-memory = ESH 2023 (याद से)
protocol-india-igh-iv-2019-not-confirmed = भारत, IGH-IV 2019 (पुष्टि नहीं)
protocol-ish-2020-from-memory = ISH 2020 (याद से)
protocol-jsh-2019-schedule-not-confirmed = JSH 2019 (समय-सारणी की पुष्टि नहीं)
protocol-jsh-2025-schedule-not-confirmed = JSH 2025 (समय-सारणी की पुष्टि नहीं)
protocol-elevated = बढ़ा हुआ
protocol-hypertension-range = उच्च रक्तचाप का दायरा
protocol-stage-1-range = चरण 1 का दायरा
protocol-stage-2-range = चरण 2 का दायरा
protocol-on-treatment = इलाज में
protocol-on-treatment-all-adults = इलाज में, सब वयस्क
protocol-on-treatment-under-80-years = इलाज में, 80 साल से कम
protocol-on-treatment-80-years-and-over = इलाज में, 80 साल और ऊपर
protocol-under-75-years-or-high-risk = 75 साल से कम, या ज़्यादा जोखिम
protocol-75-years-and-over = 75 साल और ऊपर
protocol-all-ages-if-tolerated = हर उम्र, अगर सहन हो

## What is worked out of readings, for the clinician

balance-parts = { $mornings ->
    [one] { $mornings } सुबह
   *[other] { $mornings } सुबहें
} और { $evenings ->
    [one] { $evenings } शाम
   *[other] { $evenings } शामें
}, हर बैठक की { $readings } नापें औसत में।
balance-parts-uneven = बराबर नहीं: { $mornings ->
    [one] { $mornings } सुबह
   *[other] { $mornings } सुबहें
} और { $evenings ->
    [one] { $evenings } शाम
   *[other] { $evenings } शामें
}, हर बैठक की { $readings } नापें औसत में; बराबर औसत में कम से कम { $mornings-min ->
    [one] { $mornings-min } सुबह
   *[other] { $mornings-min } सुबहें
} और { $evenings-min ->
    [one] { $evenings-min } शाम
   *[other] { $evenings-min } शामें
} होती हैं।
balance-mean-of-sittings = { $sittings } बैठकों के माध्यों का माध्य { $mean } mmHg है: कुछ बैठकों में दूसरों से बहुत ज़्यादा नापें हैं।
chance = इन नापों के बदलने के हिसाब से, ऐसे बहुत से दिनों में इस व्यक्ति का औसत { $limits } पर या उससे ऊपर होने की संभावना { $chance } है। इसमें दिनों के बीच और नापों के बीच का फैलाव आता है, मशीन की ग़लती नहीं, और यह रोग की पहचान नहीं है।
chance-least = 100 में 1 से कम
chance-most = 100 में 99 से ज़्यादा
chance-about = 100 में लगभग { $percent }
no-interval-too-wide = दिन इतने कम हैं या इतने अलग हैं कि किसी अंतराल का कोई अर्थ नहीं होगा।
no-interval-one-day = एक ही दिन से कोई अंतराल नहीं निकलता।
insufficient = { $readings-min } में से { $readings } नापें{ $dropped ->
    [yes] { " " }पहले दिन के बिना
   *[no] { "" }
}{ $at-most ->
    [0] { "" }
   *[other] { " " }(एक बैठक की ज़्यादा से ज़्यादा { $at-most })
}, { $consecutive ->
    [yes] लगातार{ " " }
   *[no] { "" }
}{ $days-min } में से { $days } दिन
labels-off-young = 18 साल से कम या लगभग: वयस्कों की सीमाएँ लागू नहीं होतीं (Stergiou et al., J Hypertens 2007: घर की सीमाएँ क़द के हिसाब से)
labels-off-pregnancy = गर्भावस्था या जन्म के बाद के आठ सप्ताह: इनके लिए घर की सीमाएँ साबित नहीं हैं (ESC 2024, खंड 9.2)
labels-off-atrial-fibrillation = ज्ञात एट्रियल फ़िब्रिलेशन: ज़्यादातर स्वचालित मशीनें इसके लिए जाँची हुई नहीं हैं (ESC 2024; NICE NG136)
labels-off-dialysis = डायलिसिस: घर की सीमाएँ वहीं लागू होती हैं जहाँ चिकित्सक ने तय की हों
target-stands = इस व्यक्ति के लिए क्लिनिक का लक्ष्य { $limits } mmHg से नीचे है{ $from }{ $stands ->
    [below] : औसत उससे नीचे है।
    [not-below] : औसत उससे नीचे नहीं है।
   *[none] ; तुलना के लिए कोई औसत नहीं है।
}
target-from-both = { " " }(चुनने वाले: { $by }; स्रोत: { $source })
target-from-by = { " " }(चुनने वाले: { $by })
target-from-source = { " " }(स्रोत: { $source })
outside-counted = { $n ->
    [one] { $n } गिनी गई नाप तय समय के बाहर है और औसत में नहीं है।
   *[other] { $n } गिनी गई नापें तय समय के बाहर हैं और औसत में नहीं हैं।
}
outside-counted-with = { $n ->
    [one] { $n } गिनी गई नाप तय समय के बाहर है और औसत में नहीं है; उसके साथ
   *[other] { $n } गिनी गई नापें तय समय के बाहर हैं और औसत में नहीं हैं; उनके साथ
} वह { $with } mmHg ({ $change }) होता।
standing-up = { $day }: { $from ->
    [lying] लेटकर
    [night] रात में
    [standing] खड़े होकर
   *[seated] बैठकर
} { $rest } mmHg{ $first }{ $third }।
standing-after-1 = ; 1 मिनट खड़े रहने पर { $standing }, { $by } की गिरावट{ $reaches ->
    [yes] , जो 20 या 10 तक पहुँचती है
   *[no] { "" }
}
standing-after-3 = ; 3 मिनट खड़े रहने पर { $standing }, { $by } की गिरावट{ $reaches ->
    [yes] , जो 20 या 10 तक पहुँचती है
   *[no] { "" }
}
medicine-changed-on = इन दिनों में दवा बदली गई, { $days } को: औसत में पहले और बाद दोनों मिले हैं।
change-lacks = पहले { $before ->
    [one] { $before } दिन
   *[other] { $before } दिन
} और { $settled } से { $after ->
    [one] { $after } दिन
   *[other] { $after } दिन
}; दोनों ओर { $needed } चाहिए
pattern-irregular-pulse = अनियमित नब्ज़
pattern-arms-differ = हाथों में अंतर
pattern-white-coat = सफ़ेद कोट
pattern-masked = छिपा हुआ
pattern-white-coat-effect = सफ़ेद कोट का असर
pattern-clinic-beside-home = क्लिनिक और घर साथ-साथ
pattern-medicine-settling = दवा बदलने के बाद ठहरने का समय
pattern-medicine-changed = दवा बदली गई
pattern-morning-rise = सुबह की बढ़त
pattern-morning-average = सुबहों का औसत
pattern-called-white-coat = सफ़ेद कोट
pattern-called-masked = छिपा हुआ
pattern-say-irregular-pulse = मशीन ने { $sessions } बार ({ $readings } नापों में) अनियमित नब्ज़ बताई। क्यों, यह मशीन नहीं बता सकती; ईसीजी बता सकता है।
pattern-say-arms-differ = दोनों हाथों वाली { $n ->
    [one] { $n } बैठक
   *[other] { $n } बैठकों
} में ({ $needed } चाहिए) { $arm ->
    [right] दाएँ
   *[left] बाएँ
} हाथ का सिस्टोलिक { $by } mmHg ज़्यादा था, 97.5 % संभावना से { $least } या उससे ज़्यादा। दिशानिर्देश आगे से ज़्यादा दबाव वाला हाथ लेने को कहता है; इस औसत में दोनों हाथों की नापें हैं।
pattern-say-morning-rise = { $n ->
    [one] { $n } दिन
   *[other] { $n } दिनों
} में, जिनमें दोनों थीं ({ $needed } से ज़्यादा चाहिए), सुबह का सिस्टोलिक माध्य शाम के माध्य से औसतन { $by } mmHg ऊपर था, 97.5 % संभावना से { $least } या उससे ज़्यादा। सहमति-पत्र { $marker } को औसत से अलग जोखिम का संकेत कहता है।
pattern-say-morning-average = { $days ->
    [one] { $days } दिन
   *[other] { $days } दिनों
} की सुबह की { $n } नापों का माध्य { $mean }{ $interval } है, 135/85 पर या उससे ऊपर; { $days-needed } से ज़्यादा दिनों में { $readings-needed } से ज़्यादा नापें चाहिए। सहमति-पत्र सुबह के माध्य को अलग से देखता है, क्लिनिक की नापें चाहे जो हों।
pattern-interval = { " " }(95 %: { $diastolic } के ऊपर { $systolic })
pattern-by = { $by } (95 % अंतराल { $low } से { $high })
pattern-say-medicine-settling = { $change } को दवा बदली, जैसा लिखा गया। { $settled } तक के दिन ठहरने के हैं और उनकी किसी से तुलना नहीं होती। अब तक पहले के { $before ->
    [one] { $before } दिन
   *[other] { $before } दिन
} और बाद के { $after ->
    [one] { $after } दिन
   *[other] { $after } दिन
} हैं; दोनों ओर { $needed } चाहिए।
pattern-say-medicine-changed = { $change } को दवा बदली, जैसा लिखा गया। { $settled } से ({ $after ->
    [one] { $after } दिन
   *[other] { $after } दिन
}), पहले ({ $before ->
    [one] { $before } दिन
   *[other] { $before } दिन
}) के मुक़ाबले: सिस्टोलिक { $systolic }, डायस्टोलिक { $diastolic }। बीच के दिन ठहरने के हैं और छोड़े गए हैं। एक के बाद दूसरा होना यह नहीं कहता कि उसी से हुआ।
pattern-beside = { $within } दिनों के अंदर की क्लिनिक की नापों का औसत { $clinic } (95 %: { $diastolic } के ऊपर { $systolic }), { $needed } ज़रूरी में से { $visits ->
    [one] { $visits } बार
   *[other] { $visits } बार
}, { $clinic-readings ->
    [one] { $clinic-readings } नाप
   *[other] { $clinic-readings } नापें
}; घर की नापें { $home }{ $interval }, { $days ->
    [one] { $days } दिन
   *[other] { $days } दिनों
} की { $home-readings ->
    [one] { $home-readings } नाप
   *[other] { $home-readings } नापों
} से
pattern-say-named = { $beside }: केवल { $shape ->
    [clinic] क्लिनिक में
   *[home] घर पर
} सीमा पर या उससे ऊपर (वहाँ { $there }, यहाँ { $here })। दिशानिर्देश इस ढंग को “{ $name }” कहता है; यह वही है या नहीं, और व्यक्ति के इलाज का इससे क्या संबंध है, यह चिकित्सक के देखने की बात है।
pattern-say-white-coat-effect = { $beside }: क्लिनिक की नापें { $by } ज़्यादा हैं। NICE रोग की पहचान के समय 20/10 से ज़्यादा अंतर को सफ़ेद कोट का असर कहता है।
pattern-say-unnamed = { $beside }: { $why ->
    [limits] यहाँ किसी ढंग का नाम नहीं दिया जा सकता
    [visits] नाम देने के लिए बहुत कम बार नापा गया
   *[chance] कोई ढंग संयोग से अलग नहीं पहचाना जा सकता
}।
pattern-say-monitor-scatters = लगभग { $day } से एक बार की दो नापों में पहले से ज़्यादा अंतर है: औसतन { $after } mmHg, पहले { $before }। मशीन और उसके कफ़ की जाँच करवाएँ।
pattern-say-monitor-disagrees = { $day } के आसपास घर की नापें क्लिनिक की नापों से { $newest } mmHg अलग थीं, पहले { $n } बार औसतन { $usual }। बदली हुई दवा से ऐसा हो सकता है; मशीन से भी। उसे क्लिनिक की मशीन के साथ जाँच करवाएँ।

## What to do next, on the terminal

next-not-begun = अभी कोई दिन शुरू नहीं किए गए
next-begins = दिन { $day } को शुरू होते हैं
next-ended = दिन { $day } को पूरे हुए
next-begin-first = { $who } के लिए अभी कोई दिन शुरू नहीं किए गए। { $command } उन्हें शुरू करता है; फिर भी जो नाप आए, वह रखी जाती है।
next-again-now = अभी फिर नापें। { $say }
next-alert = { $say }
next-because-alert = { $what ->
    [symptoms] लक्षण लिखे गए
    [ask] ऐसे शब्द लिखे गए जो सूची में नहीं हैं
    [very-high] एक नाप बहुत ज़्यादा है
    [very-high-in-pregnancy] एक नाप बहुत ज़्यादा है
    [high-in-pregnancy] एक नाप गर्भावस्था के लिए ज़्यादा है
    [very-low] एक नाप बहुत कम है
    [low] एक नाप कम है
    [pulse] एक नाप की नब्ज़ बहुत तेज़ या बहुत धीमी है
   *[irregular-pulse] मशीन ने अनियमित नब्ज़ बताई
}{ $nobodys ->
    [yes] , और किसी ने नहीं बताया कि किसकी है
   *[no] { "" }
}, { $since } से ({ $source })
next-all-in = { $n } नापें आ गईं; यह बार पूरी हुई
next-done = हो गया। कफ़ उतार दें।
next-now = अभी
next-at = { $time } बजे
next-moment = { $day } { $time }
next-set-aside = पिछली नाप अलग रखी गई: { $reason }
next-set-aside-so = पिछली नाप अलग रखी गई: कोई कारण नहीं
next-measure-again = { $when } फिर नापें।
next-apart = पहली दो नापों में { $limit } mmHg से ज़्यादा अंतर है
next-in = { $n ->
    [1] एक नाप
    [2] दो नापें
    [3] तीन नापें
   *[other] { $n } नापें
} आ गई; एक बार में { $wanted ->
    [2] दो
    [3] तीन
   *[other] { $wanted }
} होती हैं
next-keep-on = कफ़ पहने रहें। { $which ->
    [second] दूसरी
   *[third] तीसरी
} नाप { $when } लें।
next-take = अब { $which ->
    [second] दूसरी
   *[third] तीसरी
} नाप लें।
next-nothing-due = अभी नापने का समय नहीं है
next-complete = { $slot ->
    [morning] सुबह
   *[evening] शाम
} की नापें पूरी हैं
next-due = { $slot ->
    [morning] सुबह
   *[evening] शाम
} की नापों का समय है
next-due-again = { $slot ->
    [morning] सुबह
   *[evening] शाम
} की नापों का समय है: पिछली बार { $wanted } में से { $counted } नापें हुईं
next-rest = 5 मिनट शांति से बैठें, पीठ, हाथ और पैर सहारे पर, फिर पहली नाप लें।
next-wait-noted = { $time } बजे तक रुकें, आपने जो लिखा उसके 30 मिनट बाद।
next-coming = अगली नापें { $slot ->
    [morning] सुबह
   *[evening] शाम
} की हैं, { $day } { $time } बजे से।
next-beware = ध्यान दें: { $what }
state-rest = आराम
state-wait = रुकें
state-second = दूसरी
state-third = तीसरी
state-done = हो गया
state-repeat = फिर से
state-not-due = अभी नहीं
state-seek-help = मदद लें

## Short names of the reasons

why-body-movement = हिलना
why-cuff-too-loose = कफ़ ढीला
why-improper-position = ग़लत स्थिति
why-irregular-pulse = अनियमित नब्ज़
why-pulse-rate-above-range = नब्ज़ दायरे से ऊपर
why-pulse-rate-below-range = नब्ज़ दायरे से नीचे
why-no-value = कोई मान नहीं
why-impossible-value = असंभव मान
why-unlikely-value = असामान्य मान
why-too-soon = बहुत जल्दी
why-time-unknown = समय पता नहीं
why-clock-fault = घड़ी ग़लत
why-person-unknown = व्यक्ति पता नहीं
why-discarded = हटाने को कहा गया
why-outside-window = समय के बाहर
why-lone-reading = अकेली नाप
why-third-reading-missing = तीसरी नाप नहीं
why-wrist-monitor = कलाई की मशीन
why-cuff-size = कफ़ का नाप
why-not-validated = जाँच-प्रमाण नहीं
why-reported-coffee = बताया गया: कॉफ़ी
why-reported-smoking = बताया गया: धूम्रपान
why-reported-exercise = बताया गया: व्यायाम
why-reported-alcohol = बताया गया: शराब
why-reported-meal = बताया गया: खाना
why-reported-dinner = बताया गया: रात का खाना
why-reported-medicine = बताया गया: दवा
why-reported-just-woken = बताया गया: अभी उठे
why-reported-long-awake = बताया गया: देर से जागे हुए
why-reported-long-before-bed = बताया गया: सोने से बहुत पहले
why-reported-no-rest = बताया गया: आराम नहीं
why-reported-full-bladder = बताया गया: पेशाब लगी थी
why-reported-talked = बताया गया: बात की
why-reported-over-clothing = बताया गया: कपड़े के ऊपर
why-reported-other-arm = बताया गया: दूसरा हाथ
why-reported-legs-crossed = बताया गया: पैर मुड़े हुए
why-reported-back-unsupported = बताया गया: पीठ बिना सहारे
why-reported-arm-unsupported = बताया गया: हाथ बिना सहारे
why-reported-arm-low = बताया गया: हाथ नीचे
why-reported-fist-clenched = बताया गया: मुट्ठी बँधी
why-reported-posture = बताया गया: दूसरी मुद्रा
why-reported-standing = बताया गया: खड़े होकर
why-reported-lying = बताया गया: लेटकर
why-reported-night = बताया गया: रात में

## Notes

title-notes = टिप्पणियाँ
notes-say = एक बार दबाएँ, और वह इस क्षण के लिए लिख लिया जाता है।
notes-when = कब
notes-now = अभी
notes-minutes = { $n } मिनट पहले
notes-hour = एक घंटा पहले
note-medicine = दवा ली
note-medicine-changed = दवा बदली
note-coffee = चाय या कॉफ़ी
note-smoking = धूम्रपान
note-exercise = व्यायाम
note-alcohol = शराब
note-meal = खाना
note-waking = अभी जागे
note-dinner = रात का खाना
note-bed = सोने गए
note-symptoms = लक्षण
note-posture = बैठने का ढंग
note-full-bladder = पेशाब रुका था
note-no-rest = पहले आराम नहीं
note-talked = बात की
note-over-clothing = कफ़ कपड़े पर
notes-kind = इस बैठक की अगली नापें ली जाएँगी
note-standing = खड़े होकर
note-lying = लेटकर
note-night = रात को बिस्तर में
note-seated = बैठकर
kind-mean-standing = खड़े होकर: { $mean } mmHg, { $n ->
    [1] { $n } नाप
   *[other] { $n } नापें
}। औसत में नहीं।
kind-mean-lying = लेटकर: { $mean } mmHg, { $n ->
    [1] { $n } नाप
   *[other] { $n } नापें
}। औसत में नहीं।
kind-mean-night = रात को: { $mean } mmHg, { $n ->
    [1] { $n } नाप
   *[other] { $n } नापें
}। औसत में नहीं।
note-arm-left = बायीं बाँह
note-arm-right = दायीं बाँह
note-cuff = दूसरा कफ़
note-clinic-reading = क्लिनिक में नाप
note-monitor-dropped = मशीन गिरी
note-batteries-changed = नई बैटरी
note-monitor-checked = मशीन जाँची गई
notes-symptoms = तबीयत कैसी है
notes-day = दिन की बातें
notes-measuring = नापने के बारे में
notes-words = अपने शब्दों में
note-it = लिख लें
noted-lately = हाल में लिखा
noted-none = अभी कुछ नहीं लिखा गया।
take-back = वापस लें
symptom-chest-pain = सीने में दर्द
symptom-breathless = साँस फूलना
symptom-face-drooping = चेहरा एक ओर लटकना
symptom-one-sided-weakness = अचानक कमज़ोरी या सुन्नपन
symptom-speech = बोलने में कठिनाई
symptom-sight-loss = अचानक दिखना बंद होना
symptom-confused = भ्रम
symptom-fainted = बेहोशी या गिर पड़ना
symptom-seizure = दौरा पड़ना
symptom-cold-skin = ठंडी, चिपचिपी, पीली त्वचा
symptom-severe-headache = तेज़ सिरदर्द
symptom-severe-pain = पीठ या पेट में तेज़ दर्द
symptom-rib-pain = पसलियों के ठीक नीचे तेज़ दर्द
symptom-swelling = चेहरे, हाथों या पैरों में अचानक सूजन
symptom-vision = धुँधला या चमकता दिखना
symptom-vomiting = उल्टी
symptom-dizzy = चक्कर या सिर हल्का लगना
symptom-sick = जी मिचलाना
symptom-weak = कमज़ोरी लगना
symptom-none = इनमें से कोई नहीं
something-else = कुछ और
something-else-say = आपके शब्द रखे जाते हैं। वे अपने आप किसी सलाह को नहीं बदलते।

## Waiting for an answer

title-questions = जवाब बाकी है
questions-none = किसी जवाब की प्रतीक्षा नहीं है।
question-whose = यह किसकी नाप थी?
question-when = यह कब की नाप थी?
doubt-time-unknown = इस नाप के आने से पहले { $monitor } दूसरे हाथों में जा चुकी थी, और किसी को पता नहीं कि यह कब ली गई। इसलिए जब तक कोई न बताए कि यह किसकी है, यह किसी की नहीं है।
doubt-clock-unproven = इस नाप के एक दिन के भीतर { $monitor } दूसरे हाथों में गई, और इसका समय ऐसी घड़ी का है जिसे किसी ने नहीं देखा। इसलिए जब तक कोई न बताए कि यह किसकी है, यह किसी की नहीं है।
question-whose-say = किसी का अनुमान नहीं लगाया जाता। जब तक आप न बताएँ, यह नाप औसत में नहीं गिनी जाएगी।
question-when-say = मशीन की घड़ी पर भरोसा नहीं किया जा सका। मिली: { $moment }।
answer-time = दिन और समय
answer-save = यही समय था
answer-discard = औसत में न गिनें
discarded-by-page = पन्ने पर कहा गया: औसत में नहीं
question-always = { $monitor } जो भी भेजती है, पहले और आगे, सब इन्हीं का है
question-always-user = { $monitor } व्यक्ति { $number } के नाम से जो भी भेजती है, पहले और आगे, सब इन्हीं का है
not-ours = हममें से किसी की नहीं

## Monitors

title-monitors = मशीनें
backup-title = बैकअप
backup-last = पिछला ठीक बैकअप { $moment } का है।
backup-never = अभी तक कोई बैकअप नहीं बना।
backup-old = यह पुराना है: उसके बाद की नापें सिर्फ़ एक डिस्क पर हैं।
backup-encrypted = इसे सिर्फ़ वही पढ़ सकता है जिसके पास निजी कुंजी है।
backup-plain = यह सादा है: जिसके पास फ़ाइल है वह इसे पढ़ सकता है।
monitors-none = अभी कोई मशीन नहीं जोड़ी गई है।
monitor-battery = बैटरी
monitor-battery-level = { $level } %, { $date } को बताया
monitor-battery-unknown = मशीन ने नहीं बताया।
monitor-heard = पिछली बार सुनी गई
monitor-never = कभी नहीं
monitor-measurements = कितनी बार नापा
monitor-usual = किसकी
held-since = { $moment } से
held-until = { $moment } तक
monitor-user = नंबर { $number }: { $person }
monitor-due = करना है
monitor-due-none = कुछ नहीं।
monitor-due-on = { $task }, { $date } से
monitor-address = पता
monitor-places = कहाँ जुड़ी है
monitor-here = यह सर्वर
monitor-clock = घड़ी
monitor-clock-seen = { $seconds } सेकंड { $where ->
    [behind] पीछे
   *[ahead] आगे
}, { $moment } को पढ़ी गई
monitor-clock-unread = अभी पढ़ी नहीं गई। हर मशीन अपनी घड़ी पढ़ने नहीं देती।
monitor-clock-set = इसकी घड़ी मिलाएँ
monitor-clock-will = अगली बार जुड़ने पर इसकी घड़ी मिलाई जाएगी।
monitor-forget = यह मशीन भूल जाएँ
monitor-forget-say = इसे फिर सुना नहीं जाता, और इसकी जोड़ी हटा दी जाती है। इसकी नापें रहती हैं।
monitor-forget-do = भूल जाएँ
monitor-bond-kept = इसे अब सुना नहीं जाता। इसकी जोड़ी हटाई नहीं जा सकी: { $why }
monitor-not-done = यह नहीं हुआ: { $why }
monitor-nobody-listens = सर्वर पर सुनने वाला प्रोग्राम नहीं चल रहा।
consent-title = किसी उपयोगकर्ता का कोड दें
consent-say = यह मशीन अपने उपयोगकर्ताओं को नंबर और कोड से अलग रखती है, और यहाँ कोड पता होने से पहले शायद नापें न दे। दोनों कहाँ दिखते हैं, यह मशीन की पुस्तिका में लिखा है।
consent-none = अभी कोई कोड नहीं रखा है।
consent-kept = उपयोगकर्ता { $number } का कोड रखा है। यह हर बार जुड़ने पर दिया जाता है।
consent-waits = मशीन से अगली बार जुड़ने पर नया उपयोगकर्ता दर्ज करने को कहा जाएगा।
consent-accepted = मशीन ने पिछला कोड माना: { $moment }।
consent-wrong = मशीन ने पिछला कोड नहीं माना: { $moment }। उसे फिर से लिखें।
consent-number = मशीन पर उपयोगकर्ता का नंबर
consent-new = नया उपयोगकर्ता, आपके चुने कोड के साथ
consent-code = कोड, चार अंकों तक
consent-save = कोड रखें
consent-forget = उपयोगकर्ता { $number } का कोड भूल जाएँ
consent-forget-new = किसी को दर्ज न करें
task-check = जाँच करवाएँ
task-change-batteries = बैटरी बदलें
task-plan-replacement = नई मशीन की तैयारी करें
task-replace = मशीन बदलें
listeners-title = दूसरे कमरे
listeners-none = कोई दूसरा यंत्र इस सर्वर को नापें नहीं भेजता।
listeners-say = रिसीवर एक छोटा यंत्र है जो दूसरे कमरे या दूसरे घर में मशीन के पास रहता है। वह वहाँ मशीन को सुनता है और नापें यहाँ भेजता है। वही इस सर्वर को बुलाता है; जहाँ वह रखा है वहाँ कुछ खोलना नहीं पड़ता।
listeners-manage = रिसीवर को आने दें या हटाएँ
listeners-door-shut = रिसीवरों का भेजा हुआ लेने वाला प्रोग्राम नहीं चल रहा, इसलिए किसी को आने नहीं दिया जा सकता। उसे सर्वर पर शुरू करें:
listener-waiting = वहाँ रुका है
listener-waiting-n = { $n ->
    [0] कुछ नहीं
    [one] 1 फ़्रेम
   *[other] { $n } फ़्रेम
}
listener-not-told = उसने नहीं बताया।
listener-clock-right = पता है कि सही है।
listener-clock-unsure = पता नहीं कि सही है या नहीं। देखें कि वहाँ का नेटवर्क समय के सर्वर तक पहुँचता है।
listener-clock-told = यह सर्वर लाइन पर समय बताता है, { $seconds } सेकंड तक सही। जो वह सुनता है उसका समय उसी से लिया जाता है।
listener-clock-apart = इस सर्वर की घड़ी से { $seconds } सेकंड { $where ->
    [behind] पीछे
   *[ahead] आगे
}।
listener-apart = इसने { $moment } को बुलाया और इसे लौटा दिया गया: इस पर संस्करण { $theirs } चलता है, और इस सर्वर पर { $ours }। सिर्फ़ पास-पास के संस्करण एक दूसरे को समझते हैं। दोनों को एक ही संस्करण पर लाएँ। यह जो सुनता है उसे रखता है और तब भेजेगा।
listener-disk = इसकी डिस्क पर ख़ाली जगह
listener-disk-low = यह कम है। वहाँ जगह ख़ाली करें, या इसे बड़ा कार्ड दें।
listener-version = संस्करण
listener-monitors = इस रास्ते आने वाली मशीनें
listener-monitors-none = अभी कोई नहीं।
listener-pair = वहाँ मशीन जोड़ें
listener-forget = वहाँ { $monitor } भूल जाएँ
listener-forgotten = रिसीवर इसे अब नहीं सुनता, और वहाँ इसकी जोड़ी हटा दी गई। इसकी नापें रहती हैं।
listener-door-shut = रिसीवरों का भेजा हुआ लेने वाला प्रोग्राम नहीं चल रहा, इसलिए किसी से कुछ करने को नहीं कहा जा सकता। उसे सर्वर पर शुरू करें।
listener-closed = यह बैकअप के साथ वापस आया। जब तक कोई न कहे कि यह आगे काम करे, इससे कुछ नहीं लिया जाता।
listener-confirm = यह आगे काम करे
listener-withdraw = इस रिसीवर को हटाएँ
listener-withdraw-say = उसी पल से इससे और कुछ नहीं लिया जाता। जो भेजा जा चुका है वह रहता है। फिर से आने के लिए इसे नया कोड चाहिए।
listener-withdraw-do = हटाएँ
listener-withdrawn = { $moment } को हटाया गया।
listener-connected = यह जुड़ा हुआ है।
invite-title = रिसीवर को आने दें
invite-label = यह कहाँ रखा है, जैसे सोने का कमरा
invite-at = नाम या पता जिससे यह इस सर्वर तक पहुँचता है
invite-do = कोड दिखाएँ
invite-code = कोड
invite-until = यह एक रिसीवर को, एक बार, { $minutes } मिनट के लिए आने देता है: { $time } तक। यह सिर्फ़ इसी बार दिखता है।
invite-scan = कोड, कैमरे के लिए
invite-there = रिसीवर पर, इसके पीछे कोड लिखकर:
pair-title = मशीन जोड़ें
pair-at = रिसीवर { $listener } पर। मशीन उसके पास होनी चाहिए।
pair-done-there = मशीन वहाँ जुड़ गई। इसकी नापें उसी रिसीवर से आएँगी।
pair-say = मशीन का जोड़ने वाला मोड चालू करें, फिर यहाँ खोजें। इसमें एक मिनट तक लगता है।
pair-look = मशीनें खोजें
pair-looking = खोज रहे हैं।
pair-found = मिलीं
pair-with = { $name } जोड़ें
pair-for = नापें किसकी हैं?
pair-called = इसे क्या कहें
pair-called-say = अक्षर, अंक, - और _। ख़ाली छोड़ने पर: इसका पहले का नाम, नहीं तो अगला ख़ाली, जैसे m2।
pair-passkey = मशीन पर दिख रहे छह अंक
pair-passkey-show = मशीन पर यह डालें: { $passkey }
pair-send = भेजें
pair-working = जोड़ा जा रहा है। मशीन पास रखें।
pair-done = जुड़ गई, नाम { $monitor }।
pair-failed = नहीं जुड़ी: { $why }
pair-refused = मशीन ने जुड़ने से मना किया, और कोई अंक नहीं माँगे। उसका जोड़ने वाला मोड चालू करें और फिर से खोजें।
pair-without-say = अगर मशीन की पुस्तिका कहती है कि वह जुड़ नहीं सकती, तो उसे बिना जोड़े भी लिया जा सकता है। तब पास का कोई भी उसकी भेजी बातें सुन सकता है, या उसका रूप ले सकता है।
pair-without = बिना जोड़े लें
pair-stop = रोकें
pair-none = कोई मशीन नहीं सुनी गई। क्या जोड़ने वाला मोड चालू है, और मशीन पास है?
pair-no-daemon = नाप लेने वाला प्रोग्राम नहीं चल रहा, इसलिए यहाँ मशीन नहीं जुड़ सकती। उसे सर्वर पर चालू करें।

## People

title-people = लोग
person-add = एक व्यक्ति जोड़ें
person-change = बदलें
person-save = सहेजें
person-remove = सूची से हटाएँ
person-remove-say = इनकी नापें इन्हीं की रहती हैं। तब से मशीन का कोई नंबर इनका नहीं, और इनकी कुंजी से कुछ नहीं खुलता। वही व्यक्ति फिर लौट सकता है।
person-remove-do = { $who } को सूची से हटाएँ
person-removed = सूची से हटाए गए
person-again = { $who } फिर शामिल
person-again-say = सिर्फ़ तब, जब वही व्यक्ति हो। जो पहले से पता था, फिर लागू होता है; नंबर और कुंजी नए सिरे से दिए जाते हैं।
person-strict = सख़्त
person-strict-say = बताई गई बात, जैसे चाय-कॉफ़ी या बात करना, नाप पर सिर्फ़ निशान नहीं लगाती, उसे अलग रखती है
person-label = आप उन्हें क्या कहते हैं
person-from = से
person-to = तक
person-usual = खाली छोड़ें तो: { $from } से { $to } तक।
person-systolic = ऊपरी
person-diastolic = निचला
person-threshold-say = घर के औसत के लिए, अगर उनके क्लिनिक ने बताई हो। खाली छोड़ें तो दिशानिर्देश की सीमा।
person-target-by = किसने चुना
person-target-source = कहाँ लिखा है
person-target-say = अगर उनके क्लिनिक ने लक्ष्य चुना हो। खाली छोड़ें तो कोई नहीं। किसने चुना और कहाँ लिखा है, जैसे क्लिनिक का पत्र, पन्ने पर उसके साथ रहते हैं।
person-conditions = स्थितियाँ
person-conditions-say = वयस्कों की सीमाएँ इनके लिए नहीं बनीं; तब कोई औसत उनसे नहीं मिलाया जाता।
condition-pregnancy = गर्भवती, या जन्म देने के आठ हफ़्तों के भीतर
condition-atrial-fibrillation = एट्रियल फ़िब्रिलेशन पता है
condition-dialysis = डायलिसिस
arm-either = तय नहीं
person-wrong-label = 1 से { $most } अक्षरों का नाम दें।
person-wrong-same = “{ $label }” नाम का कोई पहले से है। कुछ ऐसा जोड़ें जिससे दोनों अलग पहचाने जाएँ।
person-wrong-invisible = इस नाम में ऐसा अक्षर है जो दिखता नहीं। इसे फिर से लिखें।
person-wrong-alike = यह नाम “{ $label }” जैसा दिखता है, और किसी को पहले से यह कहा जाता है। कुछ ऐसा जोड़ें जिससे दोनों अलग पहचाने जाएँ।
person-wrong-born = { $first } से { $last } तक का जन्म वर्ष दें।
person-wrong-born-on = जन्म का दिन 1951-03-24 की तरह दें, और ऐसा नहीं जो अभी आया न हो।
person-wrong-record-number = रिकॉर्ड नंबर में एक पंक्ति में ज़्यादा से ज़्यादा { $most } दिखने वाले अक्षर होते हैं।
person-wrong-group = समूह एक ही शब्द होता है, ज़्यादा से ज़्यादा { $most } दिखने वाले अक्षरों का, जैसे ऊपर।
person-wrong-arm-cm = ऊपरी बाँह का घेरा { $least } से { $most } सेंटीमीटर होता है।
person-wrong-number = वर्ष और सेंटीमीटर अंकों में दें, जैसे 1951 या 31.5।
person-wrong-window = पहला और आख़िरी मिनट दें, या दोनों खाली छोड़ें।
person-wrong-overlap = सुबह और शाम { $time } पर एक साथ खुले हैं। एक को दूसरे से पहले ख़त्म करें।
person-wrong-target = लक्ष्य के दोनों अंक mmHg में दें: 40 से 300, और उससे छोटा 20 से 200।
person-wrong-target-words = बताएँ कि लक्ष्य किसने चुना, और कहाँ लिखा है।
person-wrong-target-line = किसने लक्ष्य चुना, और कहाँ लिखा है, 1 से { $most } दिखने वाले अक्षरों में लिखें।
person-wrong-birth = जन्म का दिन दें, जो आज के बाद का न हो।
person-wrong-threshold = सीमा के दोनों अंक mmHg में दें: 40 से 300, और उससे छोटा 20 से 200।
person-gave-birth = बच्चे के जन्म का दिन
person-gave-birth-until = { $born }: गर्भावस्था की सीमाएँ { $ends } को ख़त्म होती हैं
person-gave-birth-say = बच्चे के जन्म के बाद भरें: तब से आठ हफ़्ते गर्भावस्था की सीमाएँ लागू रहती हैं, और उनके ख़त्म होने पर घर को बताया जाता है। फिर से गर्भवती हों तो फिर से चुनें।
person-born = जन्म
person-born-ask = जन्म: वर्ष, या दिन जैसे 1951-03-24
person-record-number = रिकॉर्ड नंबर
person-record-number-ask = क्लिनिक के रिकॉर्ड का नंबर, अगर वह पर्चे पर लिखा जाए
person-group = समूह
person-group-ask = समूह एक शब्द में, जैसे कोई मंज़िल या वार्ड
person-arm = बाँह
arm-left = बायीं
arm-right = दायीं
person-arm-cm = बाँह का घेरा
person-morning = सुबह
person-evening = शाम
person-protocol = नियम
person-target = क्लिनिक का लक्ष्य, औसत जिससे नीचे होना है
person-threshold = क्लिनिक की सीमा
person-period = अवधि
period-none = शुरू नहीं हुई।
period-running = { $from } से { $to } तक
period-start = आज से { $days } दिन शुरू करें
period-start-for = { $who } के लिए आज से { $days } दिन शुरू करें
calls-title = किसे फ़ोन करें
calls-say = जहाँ भी देर नहीं होनी चाहिए, यह बड़े अक्षरों में दिखता है, और छूते ही फ़ोन लगता है।
calls-change = बदलें कि किसे फ़ोन करें
calls-number = यहाँ का आपात नंबर, जैसे 112
calls-contact = जिसे बताना है, उसका नंबर
calls-contact-name = वह कौन है
calls-back = यहाँ कही बात वापस लें
calls-before = पहले क्या कहा गया
calls-taken-back = वापस लिया गया
calls-nobody = अभी कोई नहीं

## Keys and errors

title-key = आपकी कुंजी
key-say = यह पन्ना घर के लोगों के लिए है। आपको दी गई कुंजी लिखें।
key-here = मशीन पर ही quietcuff keys link एक कड़ी छापता है, जो पन्ने को एक बार खोलती है।
key-label = कुंजी
key-enter = अंदर आएँ
key-wrong = इस कुंजी से पन्ना नहीं खुलता: लिखने में भूल है, कुंजी वापस ली गई है, या उसका समय पूरा हो गया।
link-wrong = इस कड़ी से पन्ना नहीं खुलता: यह एक बार और दस मिनट तक काम करती है। नई बनाइए।
key-slow = बहुत बार कोशिश हुई। एक मिनट रुकें।
card-title = ब्लड प्रेशर: इस घर का पन्ना
card-code = कैमरे से पढ़ा जाने वाला कोड: { $address }
card-1 = टैबलेट का कैमरा कोड पर रखें, और जो दिखे उसे खोलें।
card-2 = टैबलेट की होम स्क्रीन पर यह पन्ना रखें।
card-3 = टैबलेट मशीन के पास रखें, कुर्सी से ज़्यादा से ज़्यादा दो मीटर दूर। वह बताता है कि क्या करना है।
card-with-key = जिसके पास यह कार्ड है, उसके पास कुंजी है। सर्वर पर quietcuff keys उसे वापस लेता है।
card-only-here = यह पता सिर्फ़ इसी मशीन पर चलता है। पन्ना किसी दूसरी मशीन पर खोलें, और कार्ड वहाँ छापें।
card-key-say = बिना कुछ लिखे खोलने वाले कार्ड में कुंजी होती है। सर्वर पर यह उसे बनाता है:
card-print = टैबलेट के लिए कार्ड
error-title = यह नहीं हो सका
error-not-found = ऐसा कोई पन्ना नहीं है।
error-not-yours = आपकी कुंजी से यह नहीं खुलता।
error-forged = फ़ॉर्म पुराना है, या इस पन्ने से नहीं आया। वापस जाएँ, पन्ना फिर से खोलें और दोबारा कोशिश करें।
error-journal = अभी अभिलेख पढ़ा नहीं जा सका। कुछ खोया नहीं है; एक मिनट बाद फिर कोशिश करें।
error-value = “{ $value }” यहाँ नहीं चलेगा।
error-future = यह समय अभी आया नहीं है।
back = शुरू के पन्ने पर

## Reasons: why a reading is marked or set aside

reason-body-movement = मशीन ने हिलना महसूस किया। कफ़ चलते समय स्थिर रहें।
reason-cuff-too-loose = मशीन को कफ़ ढीला लगा। इतना कसें कि उसके नीचे बस दो उँगलियाँ जा सकें।
reason-improper-position = मशीन को स्थिति ठीक नहीं लगी। कफ़ को दिल की ऊँचाई पर रखें।
reason-irregular-pulse = मशीन ने अनियमित नब्ज़ बताई। फिर ऐसा हो तो अपने क्लिनिक को दिखाएँ।
reason-pulse-rate-above-range = नब्ज़ उस सीमा से तेज़ थी जिसके लिए मशीन बनी है।
reason-pulse-rate-below-range = नब्ज़ उस सीमा से धीमी थी जिसके लिए मशीन बनी है।
reason-no-value = मशीन कोई अंक नहीं निकाल सकी।
reason-impossible-value = ये अंक संभव नहीं हैं: ऊपर का अंक नीचे वाले से ज़्यादा नहीं, ऊपर का 40 से 300 के बाहर, या नीचे का 20 से 200 mmHg के बाहर।
reason-unlikely-value = ये अंक असामान्य हैं: ऊपर का 60 से 230 के बाहर, नीचे का 40 से 130 के बाहर, दोनों का अंतर 15 से 120 mmHg के बाहर, या नब्ज़ 35 से 180 के बाहर।
reason-too-soon = पिछली नाप के एक मिनट के भीतर। दो नापों के बीच एक मिनट रुकें।
reason-time-unknown = पता नहीं यह कब ली गई। समय बताएँ, तो औसत में गिनी जा सकेगी।
reason-clock-fault = इस नाप के लिए मशीन की घड़ी पर भरोसा नहीं किया जा सकता। उसकी घड़ी मिलाएँ।
reason-person-unknown = पता नहीं यह किसकी है। बताएँ किसकी है, तो औसत में गिनी जा सकेगी।
reason-discarded = घर के किसी व्यक्ति ने इसे औसत में न गिनने को कहा।
reason-outside-window = सुबह और शाम के समय के बाहर ली गई। जहाँ पूरी बैठक बाहर थी, वहाँ वह औसत में नहीं है।
reason-lone-reading = इस बार की अकेली नाप जो गिनी गई। एक बार में दो नापें होनी चाहिए।
reason-third-reading-missing = तीसरी नाप होनी थी पर नहीं आई: पहली दो में 10 mmHg से ज़्यादा अंतर है, या इस व्यक्ति के लिए हर बार तीन नापें चाहिए।
reason-wrist-monitor = कलाई वाली मशीन। कलाई को दिल की ऊँचाई पर रखें; ऊपरी बाँह वाली मशीन बेहतर है।
reason-cuff-size = बाँह का घेरा कफ़ पर छपी सीमा के बाहर है। सही नाप का कफ़ लगाएँ।
reason-not-validated = किसी ने नहीं बताया कि मशीन का यह मॉडल प्रमाणित है। अपने देश की सूची में देखें।
reason-reported-coffee = चाय या कॉफ़ी के 30 मिनट के भीतर।
reason-reported-smoking = धूम्रपान के 30 मिनट के भीतर।
reason-reported-exercise = व्यायाम के 30 मिनट के भीतर।
reason-reported-alcohol = शराब के 30 मिनट के भीतर।
reason-reported-meal = खाने के 30 मिनट के भीतर, या सुबह की नाप से पहले नाश्ता।
reason-reported-dinner = शाम की नाप से पहले रात का खाना।
reason-reported-medicine = सुबह की नाप से पहले दवा।
reason-reported-just-woken = जागने के 30 मिनट के भीतर।
reason-reported-long-awake = जागने के एक घंटे से ज़्यादा बाद; यह नियम सुबह की नाप उस एक घंटे के भीतर चाहता है।
reason-reported-long-before-bed = सोने जाने से एक घंटे से ज़्यादा पहले; यह नियम शाम की नाप उस एक घंटे के भीतर चाहता है।
reason-reported-no-rest = नाप से पहले आराम नहीं किया। पहले 5 मिनट शांति से बैठें।
reason-reported-full-bladder = पेशाब रुका हुआ था।
reason-reported-talked = नापते समय बात की।
reason-reported-over-clothing = कफ़ कपड़े के ऊपर था, जिससे नाप बदल सकती है।
reason-reported-other-arm = यह तय की हुई बाँह नहीं है। एक ही बाँह पर नापें।
reason-reported-legs-crossed = पैर एक-दूसरे पर थे।
reason-reported-back-unsupported = पीठ टिकी नहीं थी।
reason-reported-arm-unsupported = बाँह टिकी नहीं थी।
reason-reported-arm-low = कफ़ दिल की ऊँचाई से नीचे था।
reason-reported-fist-clenched = मुट्ठी बंधी थी।
reason-reported-posture = पीठ, बाँह और पैर टिकाकर बैठने से अलग ढंग।
reason-reported-standing = खड़े होकर ली गई। यह औसत में नहीं है; खड़े होकर ली गई नापों का अपना औसत है।
reason-reported-lying = लेटकर ली गई। यह औसत में नहीं है; लेटकर ली गई नापों का अपना औसत है।
reason-reported-night = रात को बिस्तर में ली गई। यह औसत में नहीं है; रात की नापों का अपना औसत है।

## जो नहीं देख रहे, उन्हें क्या बताया जाता है: याद दिलाना और सूचनाएँ

told-not-an-alarm = quietcuff कोई अलार्म नहीं है: बंद प्रोग्राम या ख़राब रेडियो किसी को चेतावनी नहीं देता। यह रोग नहीं बताता और किसी दवा की सलाह नहीं देता।
told-somebody = घर का कोई सदस्य
told-withheld = यहाँ नहीं लिखा गया
told-reading-measured = { $moment } नापा गया: { $systolic }/{ $diastolic } { $unit }।
told-reading-measured-withheld = { $moment } नापा गया।
told-reading-received = { $moment } मिला: { $systolic }/{ $diastolic } { $unit }।
told-reading-received-withheld = { $moment } मिला।
told-reading-is-unknown = किसी को पता नहीं कि यह नाप कब की है।
told-reading-is-ahead = इस नाप की तारीख घड़ी से आगे की है, इसलिए किसी को पता नहीं कि यह कब की है।
choice-very-high-in-pregnancy = जन्म के बाद के आठ हफ़्ते; पहली ही ऐसी नाप पर किसी से बात करना
choice-high-in-pregnancy = पहले फिर से नापना; इस सीमा पर 15 मिनट
choice-very-high = साफ़ तौर पर कम का मतलब 10 mmHg कम है: एक बैठक की दो नापों में 20 में से 19 बार इससे कम अंतर होता है (एक बैठक के भीतर मानक विचलन 3.7 और 3.4, सर्वेक्षण के आँकड़े)
choice-very-low = 80, जिससे नीचे हज़ार में एक से भी कम वयस्क हैं (सर्वेक्षण के आँकड़े); 5 मिनट
choice-low = पहले फिर से नापना; 5 मिनट; आज ही
choice-pulse = कि यह तीव्र बीमारी के बाहर भी लागू है
choice-of = इसका कोई स्रोत नहीं, यह हमारा चुनाव है: { $choice }।
told-reading-is-nobodys = अभी किसी ने नहीं बताया कि यह नाप किसकी है।
told-subject-urgent = { $who }: एक नाप जो रुक नहीं सकती
told-subject-symptoms = { $who }: लक्षण लिखे गए
told-subject-session-due = { $who }: { $slot ->
    [morning] सुबह
   *[evening] शाम
} की नाप का समय है
told-session-due = 5 मिनट शांति से बैठें, पीठ, बाँह और पैर टिके हों, फिर पहली नाप लें। { $time } तक समय है।
told-subject-half-done = { $who }: { $slot ->
    [morning] सुबह
   *[evening] शाम
} की { $wanted } में से { $counted } नापें गिनी गईं
told-half-done-go-on = पट्टा लगा रहने दें और अगली नाप अभी लें।
told-half-done-again = फिर से शुरू करें: 5 मिनट आराम करें, फिर नापें। { $time } तक समय है।
told-subject-missed = { $who }: { $day } { $slot ->
    [morning] सुबह
   *[evening] शाम
} की पूरी नापें नहीं आईं
told-missed = { $counted ->
    [0] कोई नाप नहीं गिनी गई।
    [one] एक नाप गिनी गई।
   *[other] { $counted } नापें गिनी गईं।
} जो नाप मशीन में अभी रखी है, वह अगली बार जुड़ने पर आ जाएगी। नहीं तो अगली बार से जारी रखें; कुछ पूरा नहीं करना है।
told-subject-period-finished = { $who }: { $from } से { $to } तक के दिन पूरे हुए
told-average = औसत { $average } mmHg, { $days } दिनों की { $n } नापों से; { $aside ->
    [0] कोई नाप अलग नहीं रखी गई
    [one] एक और नाप अलग रखी गई
   *[other] { $aside } और नापें अलग रखी गईं
}।
told-threshold = इसे { $systolic }/{ $diastolic } mmHg ({ $source }) के सामने रखकर देखा जाता है। आपके लिए इसका अर्थ केवल चिकित्सक बता सकते हैं।
told-no-threshold = इसे किसी सीमा के सामने नहीं रखा जाता। आपके लिए इसका अर्थ केवल चिकित्सक बता सकते हैं।
told-average-withheld = औसत के लिए काफ़ी नापें हैं।
told-average-too-few = औसत के लिए काफ़ी नापें नहीं हैं: { $expected } में से { $sessions } बार की नापें आईं। कोई औसत नहीं दिखाया जाता।
told-sheet = क्लिनिक के लिए पन्ना बनाया जा सकता है।
told-subject-battery-low = मशीन { $monitor }: बैटरी { $percent } % पर है
told-battery-low = बैटरी बदलें: कमज़ोर बैटरी नाप को बीच में रोक देती है।
told-subject-monitor-silent = मशीन { $monitor } { $moment } से नहीं सुनी गई
told-monitor-silent = अगर इसके बाद किसी ने नापा है, तो मशीन को सर्वर के पास लाएँ और बैटरी देखें। अगर किसी ने नहीं नापा, तो कुछ नहीं करना है।
told-subject-listener-silent = रिसीवर { $listener } { $moment } से नहीं सुना गया
told-listener-silent = यह वह छोटा डिब्बा है जो अपने कमरे में { $monitors ->
    [0] मशीनों को
    [one] एक मशीन को
   *[other] { $monitors } मशीनों को
} सुनता है और नापें आगे भेजता है। अगर आप वहाँ हैं, तो देखें कि उसका प्लग लगा है और वहाँ का नेटवर्क चल रहा है। जब तक उसमें बिजली है, वह जो सुनता है उसे रखता है और बाद में भेजता है; कुछ भी दोबारा नापना नहीं है।
told-subject-listener-apart = रिसीवर { $listener } से { $moment } से नापें नहीं पहुँचीं
told-listener-apart = वह बुलाता है, पर उस पर संस्करण { $theirs } चलता है और सर्वर पर { $ours }: इतनी दूर कि एक दूसरे को नहीं समझते। दोनों को एक ही संस्करण पर लाएँ। वह जो सुनता है उसे रखता है और तब भेजेगा; कुछ भी दोबारा नापना नहीं है।
told-subject-door-shut = { $moment } से दूसरे कमरों से कुछ नहीं पहुँचा
told-door-shut = सर्वर पर वह प्रोग्राम नहीं चल रहा जो रिसीवरों का भेजा हुआ लेता है; quietcuff check बताता है कि क्या शुरू करना है। रिसीवर जो सुनते हैं उसे रखते हैं और बाद में भेजते हैं।
told-subject-check-due = मशीन { $monitor }: { $task }
told-check-due = { $date } से बाक़ी है।
told-subject-backup-due = पिछला ठीक बैकअप { $moment } का है
told-backup-due = उसके बाद की नापें सिर्फ़ एक डिस्क पर हैं। बैकअप की डिस्क लगाएँ; सर्वर पर quietcuff backup बैकअप बनाता है और बताता है कि क्या ग़लत है।
told-subject-delivery-stuck = नापें क्लिनिक के सर्वर तक नहीं पहुँच रहीं
told-delivery-stuck = सर्वर पर quietcuff deliver list बताता है कि क्या रुका है और क्यों।
told-subject-after-birth = { $who }: गर्भावस्था की सीमाएँ ख़त्म हुईं
told-subject-daemon-deaf = { $moment } से कोई नाप नहीं ली जा सकती
told-daemon-deaf = जो पता है: { $why }। याददाश्त वाली मशीन नापें रखती है और बाद में भेजती है। सर्वर पर quietcuff check देखता है कि क्या चाहिए।
told-subject-lapsed = समय पर नहीं बताया जा सका
told-lapsed = बताने का यह रास्ता नहीं चला। { $from } से { $to } तक जो नहीं बताया जा सका और अब बताने लायक नहीं रहा: { $what }।
told-lapsed-matter = { $n } × { $kind ->
    [urgent] नाप जो रुक नहीं सकती
    [session-due] नाप का समय
    [half-done] अधूरी नाप
    [missed] छूटी नाप
    [period-finished] दिनों का अंत
    [battery-low] कमज़ोर बैटरी
    [monitor-silent] चुप मशीन
    [listener-silent] चुप रिसीवर
    [backup-due] पुराना बैकअप
    [after-birth] गर्भावस्था की सीमाओं का अंत
    [delivery-stuck] क्लिनिक के सर्वर तक कुछ न पहुँचना
    [check-due] मशीन की जाँच
   *[daemon-deaf] नापें न मिलना
}
told-subject-test = परीक्षण: quietcuff आप तक पहुँचता है
told-test = यह एक परीक्षण है। कुछ नहीं हुआ, और कुछ नहीं करना है।
calendar-session = रक्तचाप, { $slot ->
    [morning] सुबह
   *[evening] शाम
} ({ $who })

## Whose it is, and who changed it

error-changed = इस बीच किसी और ने इसे बदल दिया, इसलिए आपका कुछ नहीं रखा गया। वापस जाएँ, पन्ना फिर से खोलें, और देखें कि अब क्या है।
versions-title = जब आपका फ़ॉर्म खुला था, तब किसी और ने इसे बदल दिया
versions-say = आपका अभी कुछ नहीं रखा गया है।
versions-begun = जब आपने शुरू किया
versions-now = अब
versions-yours = आपका
versions-below = नीचे के फ़ॉर्म में वह है जो अब है, आपके बदलावों के साथ। देख लें, और सही हो तो सहेजें।
number-title = कोई नंबर किसी को सौंपें
number-which = मशीन पर नंबर
number-none = बिना नंबर
number-whose = किसका है
number-nobody = किसी का नहीं
number-from = कब से
number-from-now = अब से
number-from-moment = एक समय से
number-from-beginning = शुरू से
number-until = कब तक, अगर अभी पता हो
number-back = वापस मिल गई
number-save = सौंपें
number-confirm-title = यह नंबर किसी का है
number-confirm-say = अभी कुछ नहीं बदला गया है।
number-moves-nobody = { $count ->
    [0] { $from } की कोई नाप नहीं जाएगी; तब से जो आए, वह किसी की नहीं होगी।
    [one] { $from } की एक नाप किसी की नहीं रहेगी।
   *[other] { $from } की { $count } नापें किसी की नहीं रहेंगी।
}
number-moves-doubted = { $count ->
    [one] इनमें से एक नाप किसी की नहीं रहेगी: वह नंबर सौंपे जाने से पहले की हो सकती है, या बाद की।
   *[other] इनमें से { $count } नापें किसी की नहीं रहेंगी: हर एक नंबर सौंपे जाने से पहले की हो सकती है, या बाद की।
}
number-confirm = हाँ, सौंप दें
number-keep = जैसा है वैसा रहने दें
title-reading = एक नाप
reading-time-unknown = पता नहीं
reading-received = मिली
reading-nobodys = अभी किसी की नहीं
reading-assigned = किसी ने ऐसा बताया
reading-discarded = औसत में नहीं, क्योंकि
reading-give = यह किसकी नाप थी?
reading-take-back-whose = किसकी है, यह जो कहा गया था, वापस लें
reading-take-back-discard = इसे औसत में गिनें
answers-title = पिछले जवाब
number-moves = { $count ->
    [0] { $from } की कोई नाप नहीं बदलेगी; उसके बाद जो आएगी वह { $to } की होगी।
    [one] { $from } की एक नाप { $to } की हो जाएगी।
   *[other] { $from } की { $count } नापें { $to } की हो जाएँगी।
}

## Whether anybody listens

page-as-of = { $moment } की स्थिति।
page-stale = यह पन्ना { $moment } का है। अब क्या है, यह देखने के लिए इसे फिर से खोलें।
listening-not-running = कोई नाप नहीं पहुँच रही: सुनने वाला प्रोग्राम नहीं चल रहा। जिस मशीन में मेमोरी है, वह अपनी नापें रखती है। सर्वर पर quietcuff check बताता है कि क्या करना है।
listening-no-answer = कोई नाप नहीं पहुँच रही: सुनने वाला प्रोग्राम जवाब नहीं देता। सर्वर पर उसे फिर से शुरू करें।
listening-no-bluetooth = कोई नाप नहीं पहुँच रही: सर्वर का ब्लूटूथ नहीं चल रहा। सर्वर पर quietcuff check बताता है कि क्या करना है।
listening-no-adapter = कोई नाप नहीं पहुँच रही: सर्वर में ब्लूटूथ अडैप्टर नहीं है। एक लगाएँ।
listening-off = कोई नाप नहीं पहुँच रही: सर्वर का ब्लूटूथ अडैप्टर बंद है।
listening-radio = कोई नाप नहीं पहुँच रही: { $detail }।
listening-disk = नापें रखी नहीं जा सकतीं: { $detail }।
listening-clock = सर्वर की घड़ी सही है या नहीं, पता नहीं। जब तक उसे नेटवर्क से समय नहीं मिलता, इस पन्ने के समय ग़लत हो सकते हैं।
listening-silent = मशीन { $detail } अपनी आदत से ज़्यादा देर से चुप है। अगर किसी ने नापा, तो उसे सर्वर के पास लाएँ और बैटरी देखें। अगर किसी ने नहीं नापा, तो कुछ नहीं करना है।
listening-listener-silent = रिसीवर { $detail } नहीं सुना जा रहा, इसलिए उसके कमरे की नापें नहीं पहुँच रहीं। देखें कि उसका प्लग लगा है और वहाँ का नेटवर्क चल रहा है। जब तक उसमें बिजली है, वह जो सुनता है उसे रखता है और बाद में भेजता है।
listening-listener-apart = रिसीवर { $detail } बुलाता है, पर उसका और इस सर्वर का प्रोग्राम इतने दूर के संस्करण हैं कि एक दूसरे को नहीं समझते, इसलिए उसके कमरे की नापें नहीं पहुँच रहीं। दोनों को एक ही संस्करण पर लाएँ। वह जो सुनता है उसे रखता है और तब भेजेगा।
listening-door-shut = दूसरे कमरों की नापें नहीं पहुँच रहीं: सर्वर पर उन्हें लेने वाला प्रोग्राम नहीं चल रहा। रिसीवर उन्हें रखते हैं। उसे सर्वर पर शुरू करें।
listening-delivery = नापें क्लिनिक के सर्वर तक नहीं पहुँच रहीं: { $detail }। वे यहाँ रखी हैं।
listening-not-delivering = नापें क्लिनिक के सर्वर तक जाने की राह देख रही हैं: भेजने वाला प्रोग्राम नहीं चल रहा। वे यहाँ रखी हैं। उसे सर्वर पर शुरू करें।
after-birth-ended = जन्म को आठ हफ़्ते हो गए। { $date } से सामान्य सीमाएँ लागू हैं, गर्भावस्था की नहीं: अब कोई नाप पहले से ऊँचे अंक पर ही बहुत ज़्यादा कही जाती है। अगर क्लिनिक या दाई अब भी दबाव पर नज़र रखती है, तो उनसे पूछें कि कौन सी सीमाएँ लागू हैं।
listening-since = { $moment } से।
listening-since-unknown = कब से, किसी को पता नहीं।

## The terminal

shape-marked = चिह्नित: गिनी गई, एक बात ध्यान देने की है
shape-set-aside = अलग रखी गई: रखी और दिखाई जाती है, औसत में नहीं
column-who = कौन
column-pressure = रक्तचाप
column-id = पहचान
column-sessions = दिन का समय, और क्या गिना गया
times-unknown = कब नापी गईं, किसी को पता नहीं; कब पहुँचीं
time-unknown-received = कब, किसी को पता नहीं; { $moment } पर पहुँची
session-counts = { $wanted } में से { $counted } नापें गिनी गईं
session-counts-taken = { $wanted } में से { $counted } नापें गिनी गईं, { $taken } ली गईं
session-open = और आ सकती हैं
session-short = बहुत कम
session-apart = पहली दो में अंतर है
session-irregular = मशीन ने अनियमित नब्ज़ बताई
nothing-such = { $what ->
    [readings] ऐसी कोई नाप नहीं है
   *[sessions] ऐसी कोई बैठक नहीं है
}; { $options } के बिना जो भी हैं, सब दिखेंगी
nothing-without-monitor = { $what ->
    [readings] अभी कोई नाप नहीं है
   *[sessions] अभी कोई बैठक नहीं है
}; { $command } से मशीन जुड़ती है, और वह जो नापती है, अपने आप आता है
nothing-yet = { $what ->
    [readings] अभी कोई नाप नहीं है
   *[sessions] अभी कोई बैठक नहीं है
}: { $listens } के सुनते समय नापें; वह सुन रहा है या नहीं, { $says } बताता है
nothing-begun = कोई अवधि शुरू नहीं हुई; { $command } आज से एक शुरू करता है
nothing-changed = { $who } की दवा में कोई बदलाव लिखा नहीं गया; { $command } से लिखा जाता है।
nothing-enrolled = कोई मशीन जोड़ी नहीं गई है; पास में कौन-सी हैं, { $command } बताता है
nothing-added = अभी कोई जोड़ा नहीं गया है; { $command } से जोड़ें
nothing-noted = कुछ लिखा नहीं गया; जैसे { $command } से कॉफ़ी लिखी जाती है
summary-heading = { $who }, { $days }: { $title }
summary-no-average = अभी औसत नहीं: { $there }। इससे कम से बहुत कम पता चलेगा।
summary-pulse = नब्ज़ प्रति मिनट
summary-caution = औसत रोग की पहचान नहीं है। उसका अर्थ आपका क्लिनिक बताएगा।
summary-cautions = अंक कुछ भी कहें, लक्षण पहले आते हैं। औसत के कारण कोई दवा शुरू, बंद या बदलें नहीं। बंद प्रोग्राम या ख़राब रेडियो कोई चेतावनी नहीं देता।
summary-more = { $command } कारण, फैलाव और चित्र दिखाता है।
summary-assign = किसकी हैं, { $command } से बताएँ।
summary-widened = अगर हर दिन पिछले दिन जैसा होता, सहसंबंध { $correlation } के साथ, जिसे यहाँ किसी ने नापा नहीं, तो 95 % अंतराल सिस्टोलिक में { $systolic } और डायस्टोलिक में { $diastolic } होता।
plot-wedges = नीचे की नोक: सिस्टोलिक। ऊपर की नोक: डायस्टोलिक।
plot-column = हर खाना { $days ->
    [1] एक दिन
    [7] एक सप्ताह
    [28] चार सप्ताह
   *[other] { $days } दिन
} का: ▼ सिस्टोलिक माध्य, ▲ डायस्टोलिक माध्य।
plot-column-spread = │ गिनी गई सबसे कम से सबसे ज़्यादा तक। नहीं दिखाई: अलग रखी { $n }।
period-is-running = चल रही है
period-is-over = पूरी हुई
earlier-say = हर पहले के औसत के साथ: पिछला औसत उससे कितना अलग है, 95 % अंतराल के साथ। ऐसे बीस अंतरालों में से एक संयोग से ही सच को छोड़ देता है।
earlier-difference = पिछला औसत इससे: सिस्टोलिक { $systolic }, डायस्टोलिक { $diastolic }।
changes-before = पहले
changes-after = { $day } से
changes-difference = बाद में कितना अंतर
changes-not-compared = तुलना नहीं
changes-same = दिनों में कोई अंतर नहीं
changes-no-reading = कोई नाप नहीं
changes-by = सिस्टोलिक { $systolic }, डायस्टोलिक { $diastolic }
changes-say = पहले: { $days } दिन तक। बाद में: उतने ही, नियम का इंतज़ार पूरा होने पर; बीच के दिन छोड़ दिए जाते हैं, और कोई पक्ष दूसरे बदलाव के पार नहीं जाता। उनके साथ: बाद में कितना अंतर, 95 % अंतराल के साथ। एक के बाद दूसरा आया, इससे यह पता नहीं चलता कि उसी से आया।
trace-no-reading = इस फ़्रेम से कोई नाप नहीं बनी।
trace-stamp = उसकी समय-मुहर { $stamp } कहती है
trace-no-stamp = समय-मुहर नहीं
trace-averaged = औसत में
trace-not-averaged = औसत में नहीं
trace-frame = फ़्रेम { $number }, { $moment } पर पहुँचा, { $monitor } से, कनेक्शन { $connection }, कैरेक्टरिस्टिक { $characteristic }
trace-frame-overheard = फ़्रेम { $number }, दूसरे कान ने सुना { $moment } पर, { $monitor } से, कनेक्शन { $connection }, कैरेक्टरिस्टिक { $characteristic }
trace-heard-by = श्रोता { $listener } ने सुना: { $label }
trace-time-told = इस सर्वर की घड़ी से { $moment } को मिला, { $seconds } सेकंड तक सही: जिस मशीन ने सुना उसके पास अपना समय नहीं था
trace-sum = कुल { $sum } mmHg, { $n } नापों से भाग: { $mean }
explain-counted = गिनी गई। यह औसत में जाती है, और इसके ख़िलाफ़ कुछ नहीं है।
explain-apart = चिह्नित। इसे अलग गिना जाता है: यह किसी नियम के औसत में नहीं, अपनी तरह के माध्य में जाती है।
explain-marked = चिह्नित। यह अपने औसत में जाती है, एक बात ध्यान देने की है।
explain-set-aside = अलग रखी गई। इसे रखा और दिखाया जाता है, यह औसत में नहीं जाती।
explain-own-words = उनके अपने शब्द: { $text }
explain-strict = इन ग़लतियों से यह सिर्फ़ चिह्नित होती। अलग इसलिए रखी गई कि इस व्यक्ति की नापें कड़ाई से परखी जाती हैं।
explain-ignored = छोड़ दिया: मशीन ने बताया: { $flag }, पर वह ख़ुद कहती है कि वह इसे देखती ही नहीं।
explain-mean = छोड़ दिया: माध्य धमनी दाब { $mean } बाकी दोनों के बीच नहीं है। वे इसके बिना रहते हैं।
explain-minute = उसकी समय-मुहर में केवल पूरे मिनट हैं; इससे साबित नहीं होता कि वह पिछली के बहुत जल्दी बाद ली गई।
status-adapter = एडैप्टर
status-radio = रेडियो
status-journal = जर्नल
status-ear = दूसरा कान
status-listening = सुन रहा है
status-way = मशीनें { $way ->
    [direct] सीधे
   *[bluez] BlueZ से
} जुड़ती हैं: { $why }
status-linked = , { $way ->
    [direct] सीधे
   *[bluez] BlueZ से
} जुड़ी
status-frames = { $n ->
    [one] शुरू होने के बाद { $n } फ़्रेम
   *[other] शुरू होने के बाद { $n } फ़्रेम
}
status-frames-last = { $n ->
    [one] शुरू होने के बाद { $n } फ़्रेम
   *[other] शुरू होने के बाद { $n } फ़्रेम
}, आख़िरी { $moment } पर
status-heard = { $address }, पिछली बार { $moment } पर सुनी गई
status-not-heard = { $address }, शुरू होने के बाद सुनी नहीं गई
status-listener = रिसीवर “{ $label }”, आख़िरी बार { $moment } सुना गया
status-listener-never = रिसीवर “{ $label }”, अभी तक नहीं सुना गया
status-listener-waits = { $n ->
    [one] 1 फ़्रेम वहाँ रुका था
   *[other] { $n } फ़्रेम वहाँ रुके थे
}
status-listener-clock = पता नहीं कि उसकी घड़ी सही है या नहीं
status-listener-clock-told = यह मशीन उसे समय बताती है, { $seconds } सेकंड तक सही
status-listener-clock-apart = उसकी घड़ी यहाँ की घड़ी से { $seconds } सेकंड { $where ->
    [behind] पीछे
   *[ahead] आगे
} है
status-listener-apart = उसने { $moment } को बुलाया और उसे लौटा दिया गया: उस पर संस्करण { $theirs } चलता है, और यहाँ { $ours }; दोनों को एक ही संस्करण पर लाएँ, वह जो सुनता है उसे रखता है
status-listener-version = संस्करण { $version }
status-listener-disk = उसकी डिस्क पर { $mb } MB ख़ाली
status-listener-battery = { $monitor } की बैटरी: { $level } %
status-door-shut = यहाँ वह प्रोग्राम नहीं चल रहा जो उसका भेजा हुआ लेता है
status-not-direct = सीधे नहीं: { $why }
status-users = { $n ->
    [one] उसके उपयोगकर्ता { $users } की नापें
   *[other] उसके उपयोगकर्ताओं { $users } की नापें
}, सहमति के साथ
ear-alone = { $n ->
    [one] एक नाप केवल उसने सुनी
   *[other] { $n } नापें केवल उसने सुनीं
}
ear-alone-unknown = केवल उसने क्या सुना, यह जर्नल नहीं बताता
ear-off = बंद
ear-listening = { $n ->
    [one] सुन रहा है, अपने शुरू होने के बाद { $n } नाप
   *[other] सुन रहा है, अपने शुरू होने के बाद { $n } नापें
}
ear-left = { $n ->
    [one] { $n } संदेश नाप नहीं था, या ऐसी जगह से था जिसे वह नहीं जानता
   *[other] { $n } संदेश नाप नहीं थे, या ऐसी जगह से थे जिसे वह नहीं जानता
}
people-user = { $monitor } का उपयोगकर्ता { $number }
people-usual = { $monitor } का आम तौर पर यही व्यक्ति
deliver-clinic = क्लिनिक
deliver-resources = रिसोर्स
deliver-messages = संदेश
deliver-counts = { $sent } भेजे गए, { $waiting } रुके हैं, { $refused } लौटाए गए
deliver-contact = पिछला संपर्क
deliver-problem = दिक़्क़त
deliver-not-before = { $moment } से पहले फिर नहीं
deliver-refused = लौटाया
deliver-retry = { $one } या { $all } से वे फिर भेजे जाते हैं
deliver-held = रोका गया
deliver-held-of = { $who } के { $n }: { $why }
release-title = क्लिनिक को देने की अनुमति
release-all = जो भी नापा जाता है
release-from = जो { $from } से नापा जाता है
release-until = जो { $until } तक नापा जाता है
release-days = जो { $from } से { $until } तक नापा जाता है
release-said = { $what }; बताने वाले: { $who }, { $moment }
release-said-unnamed = { $what }; कब बताया गया: { $moment }
release-withdrawn = वापस लेने वाले: { $who }, { $moment }
release-withdrawn-unnamed = वापस लिया गया: { $moment }
release-unstated = किसी ने नहीं कहा; कॉन्फ़िगरेशन में नाम होने से जाता है
release-missing = किसी ने नहीं कहा, और जब तक कोई न कहे, कुछ नहीं जाता
release-outside = अनुमति वाले दिनों का नहीं: { $what }
release-not-chosen = कॉन्फ़िगरेशन में नाम नहीं है, इसलिए कुछ नहीं जाता
release-waits = { $n ->
    [one] 1 रीडिंग रुकी है, क्योंकि किसी अनुमति में वह शामिल नहीं है
   *[other] { $n } रीडिंग रुकी हैं, क्योंकि किसी अनुमति में वे शामिल नहीं हैं
}
release-say = इन दिनों के नाप { $clinic } को जाते हैं, और उन अवधियों के औसत भी जो पूरी इन्हीं दिनों में हैं। अनुमति वापस लेने पर कुछ नया या सुधारा हुआ नहीं जाता। जो वहाँ पहुँच चुका है, वह वहीं रहता है; जो ग़लत था, वह वहाँ फिर भी वापस लिया जाता है।
release-give = इन दिनों की अनुमति दें
release-take-back = अनुमति वापस लें
release-first = पहला दिन; ख़ाली: शुरू से
release-last = आख़िरी दिन; ख़ाली: बिना अंत के
opening-title = क्लिनिक में रिकॉर्ड
opening-never = खुला नहीं है: वहाँ कुछ नहीं जाता।
opening-since = कब से खुला है: { $moment }
opening-taken = क्लिनिक ने इस घर की कुंजी पिछली बार कब स्वीकार की: { $moment }। अगर वह उसे वापस ले ले, तो यह अगली बार कुछ भेजे जाने पर पता चलेगा।
opening-refused = वहाँ कुछ नहीं जाता। क्लिनिक कब से इस घर की कुंजी स्वीकार नहीं करता: { $moment }। उसकी अवधि पूरी हो गई, या वहाँ उसे वापस ले लिया गया। अगर ऐसा नहीं चाहते थे, तो रिकॉर्ड फिर से खोलें।
opening-closed = कब बंद हुआ: { $moment }
opening-unreadable = यह पढ़ा नहीं जा सका कि स्थिति क्या है। कारण पन्ने के लॉग में है।
opening-as = वहाँ का नाम
opening-may = क्लिनिक ने क्या करने दिया
opening-say = { $clinic } पर आप क्लिनिक के अपने पन्ने पर साइन इन करते हैं, और वहाँ कहते हैं कि यह घर इस एक रिकॉर्ड में नापें लिख सकता है। क्लिनिक का पासवर्ड केवल वहीं डाला जाता है, और कहीं नहीं।
opening-open = रिकॉर्ड खोलें
opening-again = फिर से खोलें
opening-close = रिकॉर्ड बंद करें
opening-close-say = बंद होने पर वहाँ और कुछ नहीं जाता, और क्लिनिक से अपनी चाबी वापस लेने को कहा जाता है। जो वहाँ पहुँच चुका है, वह वहीं रहता है।
opening-came = क्लिनिक का जवाब आ गया है।
opening-on = आगे
opening-asking = क्लिनिक के सर्वर से पूछा जा रहा है।
opening-go = क्लिनिक के पन्ने पर जाएँ
opening-back-say = उसके बाद क्लिनिक आपको यहीं वापस लाता है।
opening-not-back = वह यहाँ वापस नहीं लाया
opening-paste-say = अंत में ब्राउज़र ऐसे पते पर होता है जो { $address } से शुरू होता है, चाहे कोई पन्ना न दिखे। पूरा पता कॉपी करके यहाँ डालें।
opening-paste = पूरा पता
opening-take = इसे लें
opening-missed = यह उसका जवाब नहीं है जो यहाँ शुरू हुआ था। ब्राउज़र जिस पते पर रुका, उसे पूरा लें, या रिकॉर्ड फिर से खोलें।
opening-taking = क्लिनिक का जवाब लिया जा रहा है।
opening-done = रिकॉर्ड खुल गया है। क्लिनिक को जो देने की अनुमति है, वह वहाँ जाता है।
opening-closing = रिकॉर्ड बंद किया जा रहा है।
opening-closed-there = रिकॉर्ड बंद है: वहाँ और कुछ नहीं जाता, और उसकी चाबी वापस ले ली गई है। जो वहाँ पहुँच चुका है, वह वहीं रहता है।
opening-closed-here = वहाँ और कुछ नहीं जाता, और चाबी यहाँ भुला दी गई है। क्लिनिक से कहें कि उसने जो खोला था, उसे बंद करे: { $why }
opening-elsewhere = कोई इस रिकॉर्ड को दूसरे ब्राउज़र में खोल या बंद कर रहा है।
opening-no-role = क्लिनिक तक पहुँचाने वाला प्रोग्राम नहीं चल रहा, इसलिए यहाँ कोई रिकॉर्ड न खुल सकता है, न बंद हो सकता है। उसे सर्वर पर चालू करें।
opening-declined = रिकॉर्ड नहीं खुला: क्लिनिक के पन्ने पर आपने या क्लिनिक ने मना किया।
opening-failed = { $fault ->
    [refused] क्लिनिक इस घर को आने नहीं देता: { $why }
    [server] क्लिनिक का सर्वर वैसे जवाब नहीं देता जैसे उसे देना चाहिए: { $why }
    [lacking] क्लिनिक के सर्वर में वह नहीं है जो इसके लिए चाहिए: { $why }
   *[here] पहले यहाँ कुछ ठीक करना होगा: { $why }
}
remind-kind = { $kind ->
    [urgent] नाप जो रुक नहीं सकती
    [session-due] नाप का समय
    [half-done] अधूरी नाप
    [missed] छूटी नाप
    [period-finished] दिनों का अंत
    [battery-low] कमज़ोर बैटरी
    [monitor-silent] चुप मशीन
    [listener-silent] चुप रिसीवर
    [backup-due] पुराना बैकअप
    [after-birth] गर्भावस्था की सीमाओं का अंत
    [delivery-stuck] क्लिनिक के सर्वर तक कुछ न पहुँचना
    [check-due] मशीन की जाँच
    [daemon-deaf] नापें न मिलना
   *[other] कुछ और
}
remind-told = { $what }, “{ $route }” से
remind-state = { $state ->
    [due] करना है
    [sent] बताया गया
    [pending] रुका है
    [being-sent] बताया जा रहा है
    [lapsed] समय पर नहीं बताया
   *[dropped] अब बताने लायक नहीं
}
nothing-due = अभी कुछ करना नहीं है, और पिछले दिनों किसी को कुछ बताया नहीं गया

## What home automation shows, each as the name of one value

entity-collector = नाप मिल रहे हैं
entity-monitor = मशीन { $monitor }
entity-systolic = सिस्टोलिक
entity-diastolic = डायस्टोलिक
entity-pulse = नब्ज़
entity-measured-at = कब नापा
entity-average-systolic = औसत, सिस्टोलिक
entity-average-diastolic = औसत, डायस्टोलिक
entity-session = नापने का समय
entity-urgent = रुक नहीं सकता
entity-battery = बैटरी
entity-last-heard = आख़िरी बार सुना
