// German: its phrases and its manner. A place's name stands as it is, without an article
// or an ending, for its gender is not known: "Nordkasten heute Nacht mit Vlies abdecken".

#include <fmt/format.h>

#include "daemon/notice/language.h"

namespace rimeward {
namespace {

std::string date(std::chrono::year_month_day day) {
  return fmt::format("{}.{}.{}", static_cast<unsigned>(day.day()),
                     static_cast<unsigned>(day.month()), static_cast<int>(day.year()));
}

std::string place(std::string_view name) {
  return std::string(name);
}

}  // namespace

constinit const LanguageTable kGerman{
    .code = "de",
    .phrases = phrases_of({
        // --- numbers, spans, lists
        {Phrase::kOneLayer, "eine Lage"},
        {Phrase::kManyLayers, "{count} Lagen"},
        {Phrase::kOneSecond, "{count} Sekunde"},
        {Phrase::kManySeconds, "{count} Sekunden"},
        {Phrase::kOneMinute, "{count} Minute"},
        {Phrase::kManyMinutes, "{count} Minuten"},
        {Phrase::kOneHour, "{count} Stunde"},
        {Phrase::kManyHours, "{count} Stunden"},
        {Phrase::kOneDay, "{count} Tag"},
        {Phrase::kManyDays, "{count} Tage"},
        {Phrase::kTimeOnDay, "{time} Uhr am {weekday}, {date}"},
        {Phrase::kListLast, "{list} und {last}"},

        // --- channels
        {Phrase::kChannelAirTemperature, "Temperatur"},
        {Phrase::kChannelHumidity, "Luftfeuchte"},
        {Phrase::kChannelSoilTemperature, "Bodentemperatur"},
        {Phrase::kChannelSoilMoisture, "Bodenfeuchte"},
        {Phrase::kChannelLight, "Licht"},
        {Phrase::kChannelPressure, "Luftdruck"},
        {Phrase::kChannelBatteryVoltage, "Batteriespannung"},
        {Phrase::kChannelBatteryPercent, "Batterie"},
        {Phrase::kChannelSignal, "Empfang"},
        {Phrase::kChannelForecastLow, "Tiefstwert der Vorhersage"},

        // --- where the air is going
        {Phrase::kReading, "{air} um {time} Uhr"},
        {Phrase::kReadingFalling, "{air} um {time} Uhr, fallend um {fall} je Stunde"},
        {Phrase::kReadingRising, "{air} um {time} Uhr, steigend um {rise} je Stunde"},

        // --- what several rules say of a night and its covers
        {Phrase::kOutlookAt,
         "Ausblick von {time} Uhr; eine Vorhersage, kein Versprechen."},
        {Phrase::kLayersOn, "Aufgelegt: {layers}."},
        {Phrase::kShutFirst, "Noch offen: zuerst schließen."},

        // --- cover
        {Phrase::kCoverTitle, "{place} heute Nacht mit Vlies abdecken"},
        {Phrase::kCoverMoreTitle, "{place} heute Nacht mit mehr Vlies abdecken"},
        {Phrase::kCoverShelterTitle, "{place}: Pflanzen heute Nacht schützen"},
        {Phrase::kCoverNoFleece,
         "Für diesen Ort gibt es kein Vlies: Empfindliches hereinholen."},
        {Phrase::kCoverLayers, "{layers} auflegen, {when}."},
        {Phrase::kCoverLayersInAll, "Insgesamt {layers} auflegen (jetzt {on}), {when}."},
        {Phrase::kCoverBeforeDark,
         "bevor es dunkel wird und solange die Tageswärme noch da ist"},
        {Phrase::kCoverBeforeDone, "rechtzeitig vor Feierabend"},
        {Phrase::kCoverBeforeCold, "bevor die Tageswärme verloren ist"},
        {Phrase::kCoverLate, "solange noch etwas von der Tageswärme da ist"},
        {Phrase::kCoverNotEnough,
         "Das reicht vielleicht nicht: Empfindliches hereinholen."},
        {Phrase::kCoverLow,
         "Tiefstwert {low} erwartet, in 8 von 10 Nächten {low10} bis {low90}; mit {odds} "
         "Wahrscheinlichkeit unter {mark}."},
        {Phrase::kCoverFaster,
         "Seither ist es schneller kalt geworden: jetzt sind etwa {low} zu erwarten."},
        {Phrase::kCoverByOther,
         "Gerechnet nach {place} und dem üblichen Unterschied der beiden, denn der "
         "eigene Sensor schweigt."},
        {Phrase::kCoverNoHumidity, "Die Luftfeuchte war dabei nicht bekannt."},
        {Phrase::kCoverOpinion,
         "Die Vorhersage für die Gegend, {low}, ist eingerechnet."},
        {Phrase::kCoverDark,
         "Es wird dunkel sein: Licht mitnehmen, auf Glätte achten, auf keine Leiter "
         "steigen."},

        // --- danger
        {Phrase::kDangerTitle, "{place} jetzt mit Vlies abdecken"},
        {Phrase::kDangerMoreTitle, "{place} jetzt mit einer weiteren Lage abdecken"},
        {Phrase::kDangerShelterTitle, "{place}: Empfindliches jetzt hereinholen"},
        {Phrase::kDangerByOther,
         "Der eigene Sensor schweigt; nach {place} und dem üblichen Unterschied der "
         "beiden {reading}"},
        {Phrase::kDangerBelow,
         "{reading}: nicht mehr über den {mark}, die die Pflanzen mindestens brauchen."},
        {Phrase::kDangerByNow, "{reading}: inzwischen müsste es unter {mark} sein."},
        {Phrase::kDangerAhead,
         "{reading}: geht es so weiter, sind {mark} in etwa {span} unterschritten, gegen "
         "{time} Uhr."},
        {Phrase::kDangerOutlook, "Der letzte Ausblick, von {time} Uhr, war {low}."},
        {Phrase::kDangerCare,
         "Licht mitnehmen, auf Glätte achten, auf keine Leiter steigen."},

        // --- uncover
        {Phrase::kUncoverTitle, "{place}: Vlies abnehmen"},
        {Phrase::kUncoverPassed,
         "{reading}: die Kälte ist vorbei. Seit {since} Uhr ist es über {mark}; die "
         "Pflanzen brauchen mehr als {keep_above}."},
        {Phrase::kUncoverScorches, "Warme Sonne unter Vlies verbrennt, was dort wächst."},

        // --- vent
        {Phrase::kVentTitle, "{place} öffnen"},
        {Phrase::kVentNowTitle, "{place} jetzt öffnen"},
        {Phrase::kVentWiderTitle, "{place} jetzt weiter öffnen"},
        {Phrase::kVentFarAbove,
         "{reading}: weit über den {mark}, ab denen zu öffnen ist. Ist schon offen, dann "
         "weiter öffnen und schattieren."},
        {Phrase::kVentThere,
         "{reading}: die {mark}, ab denen zu öffnen ist, sind erreicht."},
        {Phrase::kVentAhead,
         "{reading}: gegen {time} Uhr sind wohl {mark} überschritten, nach dem Verlauf "
         "heute und an früheren Vormittagen; eine Vorhersage, kein Versprechen."},

        // --- shut
        {Phrase::kShutTitle, "{place} schließen"},
        {Phrase::kShutNowTitle, "{place} jetzt schließen"},
        {Phrase::kShutBelow,
         "{reading}: unter den {mark}, bei denen zu schließen ist, um die Tageswärme zu "
         "halten."},
        {Phrase::kShutAhead,
         "{reading}. Bei {mark} schließen, spätestens bei Sonnenuntergang um {sunset} "
         "Uhr, um die Tageswärme zu halten."},
        {Phrase::kShutCold,
         "Die Nacht wird vielleicht zu kalt: mit {odds} Wahrscheinlichkeit unter {mark}, "
         "nach dem Ausblick von {time} Uhr; eine Vorhersage, kein Versprechen."},

        // --- move
        {Phrase::kMoveTitle, "{batch}: Umzug möglich, Ziel {place}"},
        {Phrase::kMoveNoNights, "Nächte zum Abhärten sind nicht verlangt."},
        {Phrase::kMoveNights,
         "Tiefster Wert der letzten {count} Nächte dort: {low}, am {weekday}, {date}; "
         "{crop} sollen über {mark} bleiben."},
        {Phrase::kMoveWait,
         "Der Ausblick auf die Nacht steht noch aus: bis zum Nachmittag damit warten."},
        {Phrase::kMoveTonight,
         "Heute Nacht {low} erwartet, in 8 von 10 Nächten {low10} bis {low90}; mit "
         "{odds} Wahrscheinlichkeit unter {mark}."},
        {Phrase::kMoveAndShut,
         "Vor der Dämmerung umziehen und die ersten Nächte geschlossen halten."},
        {Phrase::kMoveWithFleece,
         "Vor der Dämmerung umziehen und für die ersten Nächte Vlies bereithalten."},
        {Phrase::kMoveAndWatch,
         "Vor der Dämmerung umziehen; notfalls wieder hereinholen."},

        // --- a notice as a whole
        {Phrase::kHeadlineBy, "{title}, bis {time} Uhr"},
        {Phrase::kReminder, "Erinnerung: {headline}"},
        {Phrase::kMorePressing, "Jetzt dringender: {headline}"},

        // --- silent
        {Phrase::kSilentTitle, "{place}: Sensor meldet sich nicht"},
        {Phrase::kSilentForecastTitle, "Die Vorhersage von außen bleibt aus"},
        {Phrase::kSilentGardenTitle, "Vom Garten ist nichts zu hören"},
        {Phrase::kSilentLastHeard, "{sensor} hat sich zuletzt um {when} gemeldet."},
        {Phrase::kSilentNeverHeard,
         "{sensor} hat sich noch nie gemeldet; erwartet seit {when}."},
        {Phrase::kSilentUsualGap, "Üblicher Abstand der Meldungen: {span}."},
        {Phrase::kSilentRestsOnGarden,
         "Bis sie zu hören ist, beruhen die Ausblicke allein auf den Messwerten des "
         "Gartens."},
        {Phrase::kSilentRestsOnOthers,
         "Bis er zu hören ist, beruht alles, was zu {place} gesagt wird, auf den "
         "anderen Sensoren dort."},
        {Phrase::kSilentRestsOnStandIn,
         "Bis er zu hören ist, beruht alles, was zu {place} gesagt wird, auf {other} "
         "und dem üblichen Unterschied der beiden, und ist weniger sicher."},
        {Phrase::kSilentRestsOnOld,
         "Bis er zu hören ist, beruht alles, was zu {place} gesagt wird, auf älteren "
         "Messwerten, und Frost dort bleibt in der Nacht unbemerkt."},
        {Phrase::kSilentForecastRemedy, "Nachsehen, was sie an den Broker weitergibt."},
        {Phrase::kSilentRemedy,
         "Nach der Batterie sehen, und ob der Sensor noch zu erreichen ist."},
        {Phrase::kSilentNeverRemedy,
         "Nachsehen, ob der Sensor eingeschaltet und zu erreichen ist und ob sein "
         "Topic stimmt."},
        {Phrase::kSilentOnlySensor,
         "Es ist der einzige Sensor, also kann es am Broker oder am Netz liegen: auch "
         "dort nachsehen."},
        {Phrase::kSilentNothingElse,
         "Auch sonst war zuletzt nichts zu hören, also kann es am Broker oder am Netz "
         "liegen: auch dort nachsehen."},
        {Phrase::kSilentGarden,
         "Keiner der {count} Sensoren hat sich seit {when} gemeldet. Das liegt kaum an "
         "jedem einzelnen: nach Broker, Router und dem Strom von beiden sehen. Bis sie "
         "zu hören sind, beruht aller Rat auf älteren Messwerten, und Frost bleibt in "
         "der Nacht unbemerkt."},
        {Phrase::kSilentGardenNever,
         "Keiner der {count} Sensoren hat sich je gemeldet; erwartet seit {when}. "
         "Nachsehen, ob sie an diesen Broker senden, ob ihre Topics in den "
         "Einstellungen stimmen und ob [broker] listen sie einschließt. Bis sie zu "
         "hören sind, gibt es keinen Rat."},

        // --- doubtful
        {Phrase::kDoubtfulTitle, "{place}: dem Sensor ist nicht zu trauen"},
        {Phrase::kDoubtfulAllReadings, "Alle letzten {readings} Meldungen"},
        {Phrase::kDoubtfulSomeReadings, "{doubtful} der letzten {readings} Meldungen"},
        {Phrase::kDoubtfulRange,
         "{sensor}: {readings} nennen für {channel} Werte, die nicht sein können, etwa "
         "{value}."},
        {Phrase::kDoubtfulPowerOn,
         "{sensor}: {readings} nennen {value}; das sagt ein Fühler, der gerade "
         "eingeschaltet wurde und noch nicht gemessen hat."},
        {Phrase::kDoubtfulNotConnected,
         "{sensor}: {readings} nennen {value}; das steht für einen Fühler, der nicht "
         "antwortet."},
        {Phrase::kDoubtfulJump,
         "{sensor}: {readings} springen bei {channel} weiter, als es dort sein kann."},
        {Phrase::kDoubtfulStuck,
         "{sensor}: {readings} bleiben bei {value} stehen, während es sich anderswo "
         "änderte."},
        {Phrase::kDoubtfulSameSecond,
         "{sensor}: {readings} sagen Verschiedenes über ein und dieselbe Sekunde."},
        {Phrase::kDoubtfulFuture,
         "{sensor}: {readings} kommen nach der eigenen Uhr aus der Zukunft."},
        {Phrase::kDoubtfulTooOld,
         "{sensor}: {readings} liegen nach der eigenen Uhr weit zurück."},
        {Phrase::kDoubtfulOther, "{sensor}: {readings} sind nicht zu glauben."},
        {Phrase::kDoubtfulLookAtType,
         "Stecker und Kabel ansehen, und ob in den Einstellungen Art und Einheit "
         "stimmen."},
        {Phrase::kDoubtfulLookAtPower,
         "Stecker, Kabel und Strom ansehen: etwas ist locker, und der Sensor startet "
         "immer wieder neu."},
        {Phrase::kDoubtfulLookAtWires,
         "Stecker und Kabel ansehen, auch auf Wasser darin: etwas ist locker oder "
         "gebrochen."},
        {Phrase::kDoubtfulIsTouched,
         "Oder der Fühler hängt, wo er berührt, besprüht oder gewärmt wird."},
        {Phrase::kDoubtfulSwitchOff,
         "Den Sensor aus- und wieder einschalten; bleibt es so, einen anderen "
         "einsetzen."},
        {Phrase::kDoubtfulTwoSensors,
         "Nachsehen, ob zwei Sensoren auf sein Topic senden."},
        {Phrase::kDoubtfulClock,
         "Die Uhr des Sensors geht falsch: sie stellen, oder ihn keine Zeit mitsenden "
         "lassen, dann zählt die Ankunft."},
        {Phrase::kDoubtfulLook, "Sensor, Stecker und Kabel ansehen."},
        {Phrase::kDoubtfulRestsOnOthers,
         "Das alles zählt nicht; was zu {place} gesagt wird, beruht auf den anderen "
         "Messwerten dort."},
        {Phrase::kDoubtfulRestsOnOld,
         "Das alles zählt nicht: was zu {place} gesagt wird, beruht auf älteren "
         "Messwerten, und Frost dort bleibt in der Nacht unbemerkt."},

        // --- battery
        {Phrase::kBatteryTitle, "{place}: Batterie des Sensors ist schwach"},
        {Phrase::kBatterySaid,
         "{sensor} meldete {value} um {when}. Ab {low} abwärts halten Batterien nicht "
         "mehr lange, am wenigsten bei Kälte. Beim nächsten Gang frische einsetzen; "
         "bis dahin zählen die Messwerte wie zuvor."},
        {Phrase::kBatteryOtherCells,
         "Sind es Batterien anderer Art, in den Einstellungen battery_low angeben."},

        // --- damp
        {Phrase::kDampTitle, "{place} lüften"},
        {Phrase::kDampTitleLater, "{place} lüften, sobald es draußen milder ist"},
        {Phrase::kDampLastHours, "die letzten {count} Stunden"},
        {Phrase::kDampHours,
         "Bis {time} Uhr waren {hours} nacheinander feucht: Luftfeuchte {limit} % oder "
         "mehr; {air} und {humidity} % in der letzten."},
        {Phrase::kDampWetHours,
         "Bis {time} Uhr waren {hours} nacheinander feucht: Luftfeuchte {limit} % oder "
         "mehr, und rechnerisch in {condensing} davon Wasser auf Blättern oder Glas; "
         "{air} und {humidity} % in der letzten."},
        {Phrase::kDampMould, "Mehr braucht Grauschimmel nicht, um anzufangen."},
        {Phrase::kDampOpen, "Jetzt öffnen."},
        {Phrase::kDampOpenMild,
         "Jetzt öffnen: draußen waren es um {time} Uhr {outside}, und die Pflanzen "
         "darin brauchen mehr als {mark}."},
        {Phrase::kDampOpenUnknown,
         "Öffnen, sobald es draußen wärmer ist als die {mark}, die die Pflanzen darin "
         "mindestens brauchen; draußen wird nicht gemessen."},
        {Phrase::kDampTooCold,
         "Noch nicht: draußen waren es um {time} Uhr {outside}, zu kalt für Pflanzen, "
         "die mehr als {mark} brauchen."},
        {Phrase::kDampOpenLater, "Später am Vormittag öffnen, sobald es milder ist."},
        {Phrase::kDampOpenTomorrow, "Morgen Vormittag öffnen, sobald es milder ist."},
        {Phrase::kDampAdvice,
         "Den Pflanzen Platz geben, tote Blätter abnehmen, morgens und nur auf die "
         "Erde gießen. Blätter werden nicht gemessen: fühlen, ob sie nass sind."},

        // --- blight
        {Phrase::kBlightTitle,
         "Kartoffeln und Tomaten auf Kraut- und Braunfäule durchsehen"},
        {Phrase::kBlightPotatoesTitle, "Kartoffeln auf Krautfäule durchsehen"},
        {Phrase::kBlightTomatoesTitle, "Tomaten auf Braunfäule durchsehen"},
        {Phrase::kBlightDay, "ab {when} Tiefstwert {low} und {hours}"},
        {Phrase::kBlightDays,
         "{place}: Zwei Tage nacheinander waren so mild und feucht, wie die Fäule es "
         "mag ({first}; {second}; bei Luftfeuchte {humidity} % oder mehr). "
         "(Hutton-Kriterien: an beiden Tagen Tiefstwert {low} oder mehr und {hours} so "
         "feucht.)"},
        {Phrase::kBlightAdvice,
         "In den nächsten zwei Wochen alle paar Tage unter die Blätter sehen; was "
         "braune Flecken hat, abnehmen und aus dem Garten schaffen; die Erde gießen, "
         "nicht die Blätter. Ob Sporen in der Luft sind, ist nicht bekannt."},
        {Phrase::kBlightUnderCover,
         "Die Kriterien sind für offenes Land gemacht und sagen unter Glas oder Folie "
         "weniger."},

        // --- dry
        {Phrase::kDryTitle, "{place}: nach dem Wasser sehen"},
        {Phrase::kDryAirOneDay,
         "Seit dem letzten Gießen um {when} hat die Luft dort so viel Wasser gezogen "
         "wie im Freien ein schöner Sommertag ({demand} kPa h; die Marke ist {mark})."},
        {Phrase::kDryAirManyDays,
         "Seit dem letzten Gießen um {when} hat die Luft dort so viel Wasser gezogen "
         "wie im Freien {days} schöne Sommertage ({demand} kPa h; die Marke ist "
         "{mark})."},
        {Phrase::kDryMissing,
         "Für {hours} Stunden davon fehlt ein Messwert: es kann trockener sein."},
        {Phrase::kDryRain, "Regen wird nicht gemessen."},
        {Phrase::kDrySoil,
         "Die Bodenfeuchte war {moisture} % um {when}; die Marke ist {mark} %."},
        {Phrase::kDryAdvice,
         "Einen Finger tief in die Erde fühlen und gießen, was trocken ist, möglichst "
         "morgens. Die Pflanzen selbst werden nicht gemessen: große trocknen eher aus."},

        // --- due
        {Phrase::kStageEmergence, "Auflaufen"},
        {Phrase::kStagePottingOn, "Umtopfen"},
        {Phrase::kStageTransplanting, "Verpflanzen"},
        {Phrase::kStagePlantingOut, "Auspflanzen"},
        {Phrase::kStageFirstPicking, "erste Ernte"},
        {Phrase::kStageHarvest, "Ernte"},
        {Phrase::kDueEmergence, "Nach Keimlingen sehen ({crop})"},
        {Phrase::kDueEmergenceIn, "{place}: nach Keimlingen sehen ({crop})"},
        {Phrase::kDuePottingOn, "{batch} umtopfen"},
        {Phrase::kDuePottingOnIn, "{place}: {batch} umtopfen"},
        {Phrase::kDuePlantingOut, "{batch} auspflanzen"},
        {Phrase::kDuePlantingOutIn, "{place}: {batch} auspflanzen"},
        {Phrase::kDueFirstPicking, "{batch} auf erste Ernte ansehen"},
        {Phrase::kDueFirstPickingIn, "{place}: {batch} auf erste Ernte ansehen"},
        {Phrase::kDueHarvest, "{batch} auf Erntereife ansehen"},
        {Phrase::kDueHarvestIn, "{place}: {batch} auf Erntereife ansehen"},
        {Phrase::kDueOther, "{batch} ansehen, ob {stage} erreicht ist"},
        {Phrase::kDueOtherIn, "{place}: {batch} ansehen, ob {stage} erreicht ist"},
        {Phrase::kDueSinceSowing,
         "{sum} Gradtage über {base} seit der Aussaat am {weekday}, {date} ({ago} "
         "her); für {stage} sind {usual} üblich."},
        {Phrase::kDueSinceStage,
         "{sum} Gradtage über {base} seit der Stufe {earlier}; für {stage} sind "
         "{usual} üblich."},
        {Phrase::kDueMissing,
         "Für {missing} dieser {all} Stunden fehlt ein Messwert, und sie zählen nicht: "
         "es kann weiter sein."},
        {Phrase::kDueGuide,
         "Samen, Erde und Saattiefe machen Tage aus: ein Anhalt, kein Versprechen."},

        // --- route
        {Phrase::kRouteTitle, "Hinweise kommen über {route} nicht an"},
        {Phrase::kRouteFailing, "Das Senden über {route} misslingt seit {when}."},
        {Phrase::kRouteTrouble, "Was zuletzt schiefging: {trouble}"},
        {Phrase::kRouteDelivered, "Der letzte Hinweis kam auf diesem Weg um {when} an."},
        {Phrase::kRouteNotDelivered,
         "Dass auf diesem Weg je ein Hinweis ankam, ist nicht bekannt."},
        {Phrase::kRouteRemedy,
         "Wenn es behoben ist, macht rimeward check --routes einen Versuch. Bis dahin "
         "senden andere Wege weiter, und rimeward notices zeigt, was offen ist."},

        // --- store
        {Phrase::kStoreTitle, "Der Speicher nimmt keine Messwerte an"},
        {Phrase::kStoreSlowTitle, "Der Speicher ist langsam"},
        {Phrase::kStoreFull, "Er nimmt seit {when} keine an: der Datenträger ist voll."},
        {Phrase::kStoreNotWritable,
         "Er nimmt seit {when} keine an: er lässt sich nicht beschreiben."},
        {Phrase::kStoreMedium,
         "Er nimmt seit {when} keine an: die Karte oder Platte versagt."},
        {Phrase::kStoreDamaged,
         "Er nimmt seit {when} keine an: seine Datei ist beschädigt."},
        {Phrase::kStoreHeld,
         "Er nimmt seit {when} keine an: ein anderes Programm hält ihn fest."},
        {Phrase::kStoreUnreachable,
         "Er nimmt seit {when} keine an: er lässt sich nicht öffnen."},
        {Phrase::kStoreOther,
         "Er nimmt seit {when} keine an; woran es liegt, steht im Protokoll des "
         "Dienstes."},
        {Phrase::kStoreSlow,
         "Er nimmt Messwerte seit {when} nur langsam an. Verloren geht dadurch nichts, "
         "aber Hinweise können spät kommen."},
        {Phrase::kStoreMeanwhile,
         "Messwerte und Hinweise gehen aus dem Arbeitsspeicher weiter. Ist es behoben, "
         "ist "
         "nichts verloren; fällt vorher der Strom aus, fehlt, was seit {when} gemessen "
         "wurde. Was im Terminal gesagt wird, lässt sich bis dahin nicht festhalten."},
        {Phrase::kStoreFullRemedy,
         "Auf dem Datenträger von {folder} Platz schaffen: was nicht gebraucht wird, "
         "wegräumen oder löschen. {file} selbst liegen lassen, ebenso die Dateien, deren "
         "Namen so beginnen."},
        {Phrase::kStoreNotWritableRemedy,
         "Eine Karte, die von selbst schreibgeschützt wird, geht vielleicht bald kaputt: "
         "mit rimeward backup eine Kopie auf eine andere machen und eine neue Karte "
         "einsetzen. Sonst dem Benutzer des Dienstes erlauben, {file} und den Ordner zu "
         "beschreiben."},
        {Phrase::kStoreMediumRemedy,
         "Nachsehen, ob sie richtig steckt. Vielleicht geht sie bald kaputt: mit "
         "rimeward "
         "backup eine Kopie von {file} machen, solange sie sich lesen lässt, und eine "
         "andere einsetzen. Mehr steht im Protokoll des Systems."},
        {Phrase::kStoreDamagedRemedy,
         "rimeward store --check sagt, was fehlt. {file} wegräumen, dazu die Dateien "
         "daneben, die auf -wal und -shm enden; die letzte Sicherung an die Stelle "
         "legen, "
         "für den Benutzer des Dienstes beschreibbar. Sie wird binnen Minuten "
         "übernommen."},
        {Phrase::kStoreHeldRemedy,
         "Nachsehen, welches Programm {file} geöffnet hat, und es schließen."},
        {Phrase::kStoreUnreachableRemedy,
         "Nachsehen, ob es {folder} gibt, ob dort Platz ist und ob der Benutzer des "
         "Dienstes darin lesen und schreiben darf."},
        {Phrase::kStoreOtherRemedy,
         "Sicherheitshalber mit rimeward backup eine Kopie von {file} machen."},
        {Phrase::kStoreSlowRemedy,
         "Eine Karte, die langsam wird, geht oft bald kaputt: mit rimeward backup eine "
         "Kopie von {file} auf einem anderen Datenträger machen und eine neue Karte "
         "einsetzen."},
        {Phrase::kStoreWellTitle, "Der Speicher nimmt wieder Messwerte an"},
        {Phrase::kStoreWell, "Und das seit {when}; verloren ging nichts."},
        {Phrase::kStoreWellLess,
         "Und das seit {when}. Er hatte seit {since} keine angenommen, zu lange, um alle "
         "zu behalten: die ältesten, die auf ihn warteten, sind verloren."},
        {Phrase::kStoreBack,
         "Er lässt sich seit {when} wieder öffnen; was seit {since} gemessen wurde, "
         "kommt "
         "hinein."},
        {Phrase::kStoreQuickTitle, "Der Speicher ist wieder schnell"},
        {Phrase::kStoreQuick, "Und das seit {when}; verloren ging nichts."},

        // --- letters
        {Phrase::kLetterMorningTitle, "{garden}: die letzte Nacht"},
        {Phrase::kLetterMorningIntro,
         "In {unit}: die Tiefstwerte, und was der Ausblick am Abend gesagt hatte, mit "
         "der Spanne, in der acht von zehn Nächten liegen."},
        {Phrase::kLetterNightGoesOn,
         "Die Nacht ist noch nicht um: dies sind die Tiefstwerte bis {time} Uhr."},
        {Phrase::kLetterNothingLastNight,
         "Letzte Nacht wurde nichts gemessen. Falls das überrascht: nach Sensoren, "
         "Batterien und Broker sehen."},
        {Phrase::kLetterPlace, "Ort"},
        {Phrase::kLetterHigh, "hoch"},
        {Phrase::kLetterLow, "tief"},
        {Phrase::kLetterAt, "um"},
        {Phrase::kLetterOutlook, "Ausblick"},
        {Phrase::kLetterRange, "{low} ({low10} bis {low90})"},
        {Phrase::kLetterKeepAbove, "mehr als"},
        {Phrase::kLetterHeld, "gehalten"},
        {Phrase::kLetterNotHeld, "nicht gehalten"},
        {Phrase::kLetterNoReading, "kein Messwert"},
        {Phrase::kLetterTooFewReadings, "zu wenige Messwerte"},
        {Phrase::kLetterCovered,
         "{place}: {layers} aufgelegt; der Ausblick gilt ohne Abdeckung."},
        {Phrase::kLetterCoverChanged,
         "{place}: die Abdeckung wurde in der Nacht geändert; der Ausblick gilt ohne "
         "Abdeckung."},
        {Phrase::kLetterOpen, "Offen:"},
        {Phrase::kLetterDueSoon, "Bei den Pflanzen jetzt oder bald fällig:"},
        {Phrase::kLetterNothingOpen, "Nichts ist offen."},
        {Phrase::kLetterDueBy, "{title}, bis {when}"},
        {Phrase::kLetterWasDueBy, "{title}, war zu tun bis {when}"},
        {Phrase::kLetterSundayTitle, "{garden}: die Woche"},
        {Phrase::kLetterSundayIntro,
         "Höchst- und Tiefstwert jedes Tages in {unit}, von {from} bis {to}."},
        {Phrase::kLetterNothingThisWeek,
         "Diese Woche wurde nichts gemessen. Falls das überrascht: nach Sensoren, "
         "Batterien und Broker sehen."},
        {Phrase::kLetterDayToDay, "{day} auf {next}"},
        {Phrase::kLetterPartDay,
         "* Stunden ohne Messwert fehlen: es kann kälter oder wärmer gewesen sein."},
        {Phrase::kLetterColdest, "Am kältesten: {air}, {place}, {when}."},
        {Phrase::kLetterWarmest, "Am wärmsten: {air}, {place}, {when}."},
        {Phrase::kLetterOutlooksOff,
         "In der Dämmerung lagen die Ausblicke über {count} Nächte im Mittel um {error} "
         "daneben; eine Vorhersage ist kein Versprechen."},
        {Phrase::kLetterOutlookOff,
         "In der Dämmerung lag der einzige Ausblick der Woche, zu dem es einen "
         "Tiefstwert gibt, um {error} daneben; eine Vorhersage ist kein Versprechen."},
        {Phrase::kLetterNoOutlooks,
         "Kein Ausblick der Woche ließ sich mit einem Tiefstwert vergleichen."},
        {Phrase::kLetterMuted, "Stumm geschaltet:"},
        {Phrase::kLetterMutedIn, "{kind}, {place}, bis {when}"},
        {Phrase::kLetterMutedEverywhere, "{kind}, überall, bis {when}"},
        {Phrase::kLetterRoutesFail, "Hinweise kommen nicht an über:"},
        {Phrase::kLetterRouteFails, "{route}, seit {when}: {trouble}"},
        {Phrase::kLetterChartTitle,
         "Höchst- und Tiefstwerte der Woche, jeder Tag ab {time} Uhr"},

        // --- a trial of the routes
        {Phrase::kTrialTitle, "Ein Versuch von {garden}: Hinweise kommen so an"},
        {Phrase::kTrialBody,
         "Es ist nichts zu tun. Jemand hat `rimeward check --routes` aufgerufen."},
    }),
    .decimal_mark = ",",
    .weekdays = {"So", "Mo", "Di", "Mi", "Do", "Fr", "Sa"},
    .date = &date,
    .place = &place,
};

}  // namespace rimeward
