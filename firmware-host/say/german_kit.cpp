// The German sentences about instruments: guided checks, what they found, what is warned of. german.cpp has the words they use.
#include "firmware-host/say/language.hpp"

namespace hangtrue::say {

namespace {
constexpr Translation kGermanKit[] = {
    {"datum check", "Prüfung der Bezugsebene"},
    {"zero check of {}", "Nullpunktprüfung der {}"},
    {"no calibration is stated in the kit sheet.", "im Messzeugblatt ist keine Kalibrierung angegeben."},
    {"calibration overdue since {}.", "Kalibrierung überfällig seit {}."},
    {"calibration due on {}, in {} day.", "Kalibrierung fällig am {}, in {} Tag."},
    {"calibration due on {}, in {} days.", "Kalibrierung fällig am {}, in {} Tagen."},
    {"no zero check of {} in the book: its zero error is known only as well as the kit sheet states.",
     "keine Nullpunktprüfung im Messbuch ({}): der Nullpunktfehler ist nur so gut bekannt, wie das "
     "Messzeugblatt sagt."},
    {"no datum check in the book: the tilt of its plane is known only as well as the run sheet assumes.",
     "keine Prüfung der Bezugsebene im Messbuch: die Neigung ihrer Ebene ist nur so gut bekannt, wie das "
     "Laufblatt "
     "annimmt."},
    {"{} reads {} too much, more than three times what its kit sheet states, {}: have it serviced.",
     "{} zeigt {} zu viel, mehr als das Dreifache dessen, was das Messzeugblatt sagt, {}: warten lassen."},
    {"{} has drifted by {} +- {} from {} to {}: what was read between the two may be off by as much.",
     "{}: um {} +- {} abgewandert von {} bis {}: was dazwischen gemessen wurde, kann um so viel falsch "
     "sein."},
    {"the tilt of its plane", "Neigung der Ebene"},
    {"{} zero", "Nullpunkt der {}"},
    {"the last {} is {} days old; check it again.", "die letzte {} ist {} Tage alt; noch einmal prüfen."},
    {"read at {}, but its {} was made at {}; check it again at the temperature of the work.",
     "gemessen bei {}, die {} aber bei {}; bei der Temperatur der Arbeit noch einmal prüfen."},
    {"Zero check of {}", "Nullpunktprüfung von „{}“"},
    {"Datum check of {}", "Prüfung der Bezugsebene von „{}“"},
    {"Scale check of {}", "Maßstabsprüfung von „{}“"},
    {"stand it on a firm, clean place, nearly level, and mark where each foot stands. Nobody touches that "
     "place or leans "
     "on it until the check is done.",
     "auf eine feste, saubere, fast waagerechte Stelle setzen und anzeichnen, wo jeder Fuß steht. Bis die "
     "Prüfung fertig "
     "ist, berührt niemand diese Stelle und lehnt sich nicht an."},
    {"turn it round, end for end, each foot on the other's mark.",
     "umdrehen, Ende gegen Ende, jeden Fuß auf den Strich des anderen."},
    {"turn it back, each foot on its own mark.", "zurückdrehen, jeden Fuß auf seinen eigenen Strich."},
    {"stand the laser beyond the start of the run, in line with it, and mark the side that faces the run. "
     "Let it level "
     "itself. Never look into a laser. Then read at {} and mark where exactly.",
     "den Laser jenseits des Anfangs der Zeile aufstellen, in ihrer Flucht, und die Seite anzeichnen, die "
     "zur Zeile zeigt. "
     "Warten, bis er sich ausgerichtet hat. Nie in einen Laser blicken. Dann bei {} messen und genau "
     "anzeichnen, wo."},
    {"carry the laser beyond the other end of the run, in line with it, and turn it about, so that the "
     "marked side faces "
     "the run again. Let it level itself. Then read at {}, on the mark.",
     "den Laser jenseits des anderen Endes der Zeile aufstellen, in ihrer Flucht, und umdrehen, dass die "
     "angezeichnete Seite "
     "wieder zur Zeile zeigt. Warten, bis er sich ausgerichtet hat. Dann bei {} messen, auf dem Strich."},
    {"switch the laser off and on, so that it levels itself anew; do not move it. Then read at {}, on the "
     "mark.",
     "den Laser aus- und einschalten, dass er sich neu ausrichtet; nicht verstellen. Dann bei {} messen, auf "
     "dem Strich."},
    {"now read at {} and mark where exactly.", "jetzt bei {} messen und genau anzeichnen, wo."},
    {"now read at {}, on the mark.", "jetzt bei {} messen, auf dem Strich."},
    {"stand it on a firm, clean place, nearly level, just as it stands on the run: face 1, along the run, "
     "its own end "
     "towards the end of the run. Mark where each foot stands. Nobody touches that place or leans on it "
     "until the check is "
     "done.",
     "auf eine feste, saubere, fast waagerechte Stelle setzen, genau wie an der Zeile: Lage 1, an der Zeile "
     "entlang, sein "
     "Ende zum Ende der Zeile. Anzeichnen, wo jeder Fuß steht. Bis die Prüfung fertig ist, berührt niemand "
     "diese Stelle und "
     "lehnt sich nicht an."},
    {"take the piece out; each foot back on its mark.",
     "das Stück herausnehmen; jeden Fuß zurück auf seinen Strich."},
    {"lay the piece of {} under the foot nearer to the END of the run (where places along the run are "
     "greatest; with four "
     "feet, under both of that end). Leave the other foot on its mark.",
     "das Stück von {} unter den Fuß legen, der näher am ENDE der Zeile steht (wo die Orte an der Zeile am "
     "größten sind; bei "
     "vier Füßen unter beide an diesem Ende). Den anderen Fuß auf seinem Strich lassen."},
    {"take the piece out and lay it under the foot at the LEFT edge, left when one looks along the run from "
     "its start (with "
     "four feet, under both of that side). Leave the other foot on its mark.",
     "das Stück herausnehmen und unter den Fuß an der LINKEN Kante legen, links, wenn man vom Anfang an der "
     "Zeile "
     "entlangsieht (bei vier Füßen unter beide auf dieser Seite). Den anderen Fuß auf seinem Strich lassen."},
    {"read a place that can be found again, and mark it. Never look into a laser. Mark a second place, "
     "higher by {}, measured "
     "with a tape measure along the beam.",
     "einen Ort messen, der sich wiederfinden lässt, und ihn anzeichnen. Nie in einen Laser blicken. Einen "
     "zweiten Ort "
     "anzeichnen, um {} höher, mit dem Bandmaß längs des Strahls gemessen."},
    {"read the first, lower place again, on its mark.",
     "den ersten, tieferen Ort noch einmal messen, auf seinem Strich."},
    {"now read the second place, higher by {}, on its mark.",
     "jetzt den zweiten Ort messen, der um {} höher liegt, auf seinem Strich."},
    {"{} gives neither slope nor roll: a zero check by faces is for inclinometers. A laser has a datum "
     "check.",
     "„{}“ gibt weder Längs- noch Querneigung: eine Nullpunktprüfung in beiden Lagen ist für Neigungsmesser. "
     "Für einen Laser "
     "gibt es die Prüfung der Bezugsebene."},
    {"{} gives no distance: a datum check is for a laser datum. An inclinometer has a zero check.",
     "„{}“ gibt keinen Abstand: die Prüfung der Bezugsebene ist für Laser. Für einen Neigungsmesser gibt es "
     "die "
     "Nullpunktprüfung."},
    {"{} rounds: ask for 1 to {}, usually {}.", "{} Runden: 1 bis {} sind möglich, üblich {}."},
    {"The places {} and {} are not both on the run: name two from 0 to {}.",
     "Die Orte {} und {} liegen nicht beide auf der Zeile: zwei von 0 bis {} nennen."},
    {"The places {} and {} are too close: name first the one nearer to the start, and at least {} between "
     "the two.",
     "Die Orte {} und {} liegen zu nah beieinander: zuerst den nennen, der näher am Anfang liegt, und "
     "mindestens {} "
     "dazwischen."},
    {"{} {}: no settled reading yet. Wait until it is still, then say next again.",
     "„{}“ {}: noch kein ruhiger Messwert. Warten, bis es still steht, dann noch einmal weiter."},
    {"{}: all readings are taken already.", "{}: alle Messwerte sind schon genommen."},
    {"{} gives neither slope nor roll: a piece under one foot is for inclinometers. The scale of a laser is "
     "checked at two "
     "places: check scale places 500 mm apart.",
     "„{}“ gibt weder Längs- noch Querneigung: ein Stück unter einem Fuß ist für Neigungsmesser. Der Maßstab "
     "eines Lasers wird "
     "an zwei Orten geprüft, etwa 500 mm auseinander."},
    {"{} gives no distance: two places are for lasers. The scale of an inclinometer is checked with a piece: "
     "check scale 5 mm "
     "across 120 mm.",
     "„{}“ gibt keinen Abstand: zwei Orte sind für Laser. Der Maßstab eines Neigungsmessers wird mit einem "
     "Stück geprüft, etwa "
     "5 mm bei 120 mm Fußabstand quer."},
    {"{} slope: the kit sheet has no base for it, the distance between its feet along the run; write base = "
     "\"250 mm\", as you "
     "measure it, into that channel.",
     "„{}“ Längsneigung: im Messzeugblatt fehlt base, der Fußabstand an der Zeile entlang; base = \"250 "
     "mm\", wie gemessen, in "
     "diesen Kanal schreiben."},
    {"{} gives roll too: say how far apart its feet are across the run, such as check scale 5 mm across 120 "
     "mm.",
     "„{}“ gibt auch die Querneigung: sagen, wie weit seine Füße quer zur Zeile auseinander stehen, etwa 120 "
     "mm."},
    {"{} {}: feet {} apart are too close, at least {} are needed: a quarter of a millimetre more or less "
     "would count too much.",
     "„{}“ {}: Füße {} auseinander stehen zu eng, mindestens {} sind nötig: ein Viertelmillimeter mehr oder "
     "weniger würde zu "
     "viel zählen."},
    {"{}: a distance between the places of {} is too short: it would not tell 2 percent. Take at least {}.",
     "„{}“: {} Abstand zwischen den Orten sind zu kurz: 2 Prozent wären nicht zu erkennen. Mindestens {} "
     "nehmen."},
    {"{}: a piece of {} is too thin: it would not tell 2 percent. Take at least {}.",
     "„{}“: ein Stück von {} ist zu dünn: 2 Prozent wären nicht zu erkennen. Mindestens {} nehmen."},
    {"{}: a distance between the places of {} is too long for its range. Take at most {}.",
     "„{}“: {} Abstand zwischen den Orten sind zu lang für seinen Messbereich. Höchstens {} nehmen."},
    {"{}: a piece of {} is too thick for its base and range. Take at most {}.",
     "„{}“: ein Stück von {} ist zu dick für seinen Fußabstand und Messbereich. Höchstens {} nehmen."},
    {"{}: {} readings are still to be taken.", "{}: {} Messwerte fehlen noch."},
    {"zero {}", "Nullpunkt {}"},
    {"its plane sinks away from the laser by {} ({} between the two places)",
     "seine Ebene fällt vom Laser weg um {} ({} zwischen den beiden Orten)"},
    {"its plane climbs away from the laser by {} ({} between the two places)",
     "seine Ebene steigt vom Laser weg um {} ({} zwischen den beiden Orten)"},
    {"{}: {} +- {}, from {}{}.", "{}: {} +- {}, aus {}{}."},
    {"{} round", "{} Runde"},
    {"{} rounds", "{} Runden"},
    {"; as good as none ({})", "; so gut wie keiner ({})"},
    {"{}: one reading scatters by {}{}; {} is stated, up to {} would pass ({}). ",
     "{}: ein Messwert streut um {}{}; angegeben sind {}, bis {} ginge es durch ({}). "},
    {", levelling anew included", ", neues Ausrichten eingeschlossen"},
    {"That is too much: {}", "Das ist zu viel: {}"},
    {"That is as stated.", "Das ist wie angegeben."},
    {"{}: more than three times what the run sheet states, {}. Make sure that the marked side faced the run "
     "from both ends; "
     "if so, have it serviced before it is used.",
     "{}: mehr als das Dreifache dessen, was das Laufblatt angibt, {}. Nachsehen, ob die angezeichnete Seite "
     "von beiden Enden "
     "zur Zeile zeigte; wenn ja, vor dem Gebrauch warten lassen."},
    {"{}: more than three times what its kit sheet states, {}. Make sure that it was turned round between "
     "the two faces; if "
     "so, have it serviced before it is used.",
     "{}: mehr als das Dreifache dessen, was das Messzeugblatt angibt, {}. Nachsehen, ob es zwischen den "
     "beiden Lagen umgedreht "
     "wurde; wenn ja, vor dem Gebrauch warten lassen."},
    {"{}: the first such check of it in this book.", "{}: die erste solche Prüfung in diesem Messbuch."},
    {"{}: on {} it was {} +- {}; {} since, ", "{}: am {} waren es {} +- {}; {} seither, "},
    {"more than ", "mehr, als "},
    {"no more than ", "nicht mehr, als "},
    {"the two checks", "die beiden Prüfungen"},
    {"the two checks and zero_keeps", "die beiden Prüfungen und zero_keeps"},
    {" explain ({})", " erklären ({})"},
    {": it has drifted, and what was read in between may be off by as much.",
     ": es ist abgewandert, und was dazwischen gemessen wurde, kann um so viel falsch sein."},
    {"{}: on {} one reading scattered by no more than {} ({}): something has come loose, or the place is "
     "less firm.",
     "{}: am {} streute ein Messwert um nicht mehr als {} ({}): etwas hat sich gelockert, oder die Stelle "
     "ist weniger fest."},
    {"{}: this is allowed for where the book says beyond which end the laser stands. Keep the marked side "
     "towards the run.",
     "„{}“: das wird berücksichtigt, wo im Messbuch steht, jenseits welchen Endes der Laser steht. Die "
     "angezeichnete Seite zur "
     "Zeile halten."},
    {"{} {}: it changed by {} where {} is due: scale {} +- {}, from {}.",
     "„{}“ {}: änderte sich um {}, wo {} fällig waren: Maßstab {} +- {}, aus {}."},
    {" Scale, unit and sign are right.", " Maßstab, Einheit und Vorzeichen stimmen."},
    {"{} {}: the rounds disagree: one reading scatters by {} where {} is stated ({}). Set each foot, or the "
     "beam, exactly on "
     "its mark, keep still, and check again.",
     "„{}“ {}: die Runden passen nicht zusammen: ein Messwert streut um {}, wo {} angegeben sind ({}). Jeden "
     "Fuß, oder den "
     "Strahl, genau auf seinen Strich setzen, still halten und noch einmal prüfen."},
    {" And ", " Und "},
    {" Then check again.", " Dann noch einmal prüfen."},
    {"it is off as inches are for millimetres: look at the unit of what you said of the piece and the feet, "
     "and of base in the "
     "kit sheet.",
     "es liegt so daneben wie Zoll für Millimeter: die Einheit der Angaben zu Stück und Füßen ansehen, und "
     "die von base im "
     "Messzeugblatt."},
    {"it answered to the piece that was laid for {}: slope and roll are exchanged in the kit sheet, or the "
     "piece lay under the "
     "wrong foot.",
     "es antwortete auf das Stück für {}: Längs- und Querneigung sind im Messzeugblatt vertauscht, oder das "
     "Stück lag unter dem "
     "falschen Fuß."},
    {"it did not change: make sure that this is the instrument that was read, and that the piece lay under "
     "its foot; if so, its "
     "unit, its scale or where it is read from is wrong in the kit sheet.",
     "es änderte sich nicht: nachsehen, ob dies das gemessene Gerät ist und das Stück unter seinem Fuß lag; "
     "wenn ja, sind seine "
     "Einheit, sein Maßstab oder woher es gelesen wird im Messzeugblatt falsch."},
    {"it reads {} times what is due, which no unit explains. Measure the {} again{}; if it stays so, have it "
     "serviced.",
     "es zeigt das {}-Fache des Fälligen, und das erklärt keine Einheit. Noch einmal messen: {}{}; bleibt es "
     "so, warten "
     "lassen."},
    {"distance between the two places", "Abstand zwischen den beiden Orten"},
    {"piece and the distance between its feet", "Stück und Fußabstand"},
    {", and compare scale in the kit sheet with its manual",
     ", und scale im Messzeugblatt mit der Anleitung vergleichen"},
    {"a wrong unit: it sends {}, which is taken for {}. ",
     "falsche Einheit: es sendet {}, das wird für {} gehalten. "},
    {"It calls it {} itself: set the instrument to send {}.",
     "Es nennt es selbst {}: das Gerät so einstellen, dass es {} sendet."},
    {"One percent is 10 mm/m: write unit = \"mm/m\" and a scale ten times that of percent into the kit "
     "sheet.",
     "Ein Prozent sind 10 mm/m: unit = \"mm/m\" und das Zehnfache von scale ins Messzeugblatt schreiben."},
    {"No sheet knows percent: set the instrument to send mm/m or deg, and write that.",
     "Kein Blatt kennt Prozent: das Gerät auf mm/m oder Grad einstellen und das eintragen."},
    {"Write unit = \"{}\" into that channel of the kit sheet.",
     "unit = \"{}\" in diesen Kanal des Messzeugblatts schreiben."},
    {" Or its scale is wrong there: it is to be {} times what it is.",
     " Oder scale ist dort falsch: es muss das {}-Fache sein."},
    {"both slope and roll changed the wrong way: it stood the other way round, or the start of the run was "
     "taken for its end. "
     "The end is where places are greatest, and left is left when one looks from the start to the end. If it "
     "stood right, write "
     "{} into this channel of the kit sheet.",
     "Längs- und Querneigung änderten sich falsch herum: es stand andersherum, oder der Anfang der Zeile "
     "wurde für ihr Ende "
     "gehalten. Das Ende ist, wo die Orte am größten sind, und links ist links vom Anfang zum Ende gesehen. "
     "Stand es richtig, {} "
     "in diesen Kanal des Messzeugblatts schreiben."},
    {"it changed the wrong way: the second place must be the higher one; if it was, write {} into that "
     "channel of the kit sheet.",
     "es änderte sich falsch herum: der zweite Ort muss der höhere sein; war er es, {} in diesen Kanal des "
     "Messzeugblatts "
     "schreiben."},
    {"it changed the wrong way: a wrong sign, or the wrong end. Make sure that the piece lay under the foot "
     "nearer to the end of "
     "the run, where places are greatest; if it did, write {} into that channel of the kit sheet.",
     "es änderte sich falsch herum: falsches Vorzeichen oder falsches Ende. Nachsehen, ob das Stück unter "
     "dem Fuß lag, der näher "
     "am Ende der Zeile steht, wo die Orte am größten sind; wenn ja, {} in diesen Kanal des Messzeugblatts "
     "schreiben."},
    {"it changed the wrong way: a wrong sign, or the wrong edge. Make sure that the piece lay under the foot "
     "at the left edge, "
     "left when one looks from the start to the end; if it did, write {} into that channel of the kit sheet.",
     "es änderte sich falsch herum: falsches Vorzeichen oder falsche Kante. Nachsehen, ob das Stück unter "
     "dem Fuß an der linken "
     "Kante lag, links vom Anfang zum Ende gesehen; wenn ja, {} in diesen Kanal des Messzeugblatts "
     "schreiben."},
    {"see that the laser stands firm and the marks are met, and check again; if it stays so, the laser does "
     "not level itself "
     "alike each time: read all of a survey from one set-up, or have it serviced.",
     "nachsehen, ob der Laser fest steht und die Striche getroffen sind, und noch einmal prüfen; bleibt es "
     "so, richtet der Laser "
     "sich nicht jedes Mal gleich aus: eine Aufnahme ganz aus einer Aufstellung messen oder ihn warten "
     "lassen."},
    {"set the feet exactly on their marks, keep still, and check again; if it stays so, {} is this channel's "
     "sigma: have it "
     "stated in the kit sheet.",
     "die Füße genau auf ihre Striche setzen, still halten und noch einmal prüfen; bleibt es so, ist {} das "
     "Sigma dieses Kanals: "
     "ins Messzeugblatt eintragen lassen."},
    {"{}: all readings are taken.", "{}: alle Messwerte sind genommen."},
    {"{}, round {} of {}, face {}: {} Take your hands off; when it is still, say next.",
     "{}, Runde {} von {}, Lage {}: {} Hände weg; wenn es still steht, weiter."},
    {"{}, set-up {}, round {} of {}: {} When it is still, say next.",
     "{}, Aufstellung {}, Runde {} von {}: {} Wenn es still steht, weiter."},
    {"{}, round {} of {}: {} Take your hands off; when it is still, say next.",
     "{}, Runde {} von {}: {} Hände weg; wenn es still steht, weiter."},
    {"{} scale {} +- {}, {}", "{}: Maßstab {} +- {}, {}"},
    {"scale, unit and sign right", "Maßstab, Einheit und Vorzeichen stimmen"},
    {"something is wrong", "etwas stimmt nicht"},
    {"{} place", "{} Ort"},
    {"{} places", "{} Orte"},
    {"{} degree of freedom", "{} Freiheitsgrad"},
    {"{} degrees of freedom", "{} Freiheitsgrade"},
    {"Repeats with {} ({}): one reading scatters by {}, {} is stated: {} (p {}).",
     "Wiederholungen mit „{}“ ({}): ein Messwert streut um {}, angegeben sind {}: {} (p {})."},
    {" Find out why (a loose place, hands on the run, feet not on their marks), or have {} stated as this "
     "channel's sigma "
     "in the kit sheet; until then the sigmas shown are too small.",
     " Herausfinden, warum (eine lose Stelle, Hände an der Zeile, Füße nicht auf ihren Strichen), oder {} "
     "als Sigma dieses "
     "Kanals ins Messzeugblatt eintragen lassen; bis dahin sind die gezeigten Sigmas zu klein."},
    // How an instrument is shown on the page.
    {"No calibration is stated in the kit sheet.", "Im Messzeugblatt ist keine Kalibrierung angegeben."},
    {"Calibrated {}", "Kalibriert {}"},
    {", at {}", ", bei {}"},
    {"{} reads {} +- {} too much{}", "{} zeigt {} +- {} zu viel{}"},
    {"datum tilts {} +- {}{}", "Bezugsebene neigt sich um {} +- {}{}"},
    {"Checked {}: {}.", "Geprüft {}: {}."},
};
}  // namespace

std::span<const Translation> german_kit() { return kGermanKit; }

}  // namespace hangtrue::say
