// record.hpp: what every document has: the lines on every page, cautions, and what the level book stands for.
#pragma once

#include <string>

#include "tools/report/common/papers.hpp"
#include "tools/report/layout/document.hpp"

namespace hangtrue::report {

/// Name, paper, head and foot of every page, in the run's language; `kind` and `survey` are in it.
[[nodiscard]] Document begin(const std::string& kind, const sheet::RunSheet& run, const std::string& survey,
                             const Record& record, Paper paper);
/// Seal and its code onto the first page, or that there is none. `last`: the last entry that the document rests on.
void add_seal(Title& title, const Record& record, book::Number last, sheet::Show show);
/// The sections "Cautions" and "Seal and level book": the chain, the seals that stand for everything up to that entry, and
/// what the book cannot show.
void add_cautions_and_record(Document& document, const Record& record, book::Number last, sheet::Show show);
/// Place, date, who read and a second person: as the book has them, else to be filled in by hand.
void add_signatures(Document& document, const book::Naming& naming, sheet::Show show);
/// "as-built (before bolting)": a survey by its id, and by what it is called where that was said.
[[nodiscard]] std::string survey_name(const std::string& id, const book::Naming& naming);
void add_cautions(Document& document, sheet::Show show);

}  // namespace hangtrue::report
