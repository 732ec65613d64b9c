#include "tools/report/common/record.hpp"

#include <algorithm>

#include "firmware-host/book/short_form.hpp"
#include "firmware-host/say/cautions.hpp"
#include "firmware-host/say/language.hpp"
#include "tools/report/common/figures.hpp"

namespace hangtrue::report {

namespace {

/// The first that stands for everything up to there: the one that was noted when it was handed over. Nothing: not sealed.
std::optional<book::SealRecord> seal_for(const Record& record, book::Number last) {
  const auto& seals = record.audit.seals;
  const auto first = std::find_if(seals.begin(), seals.end(),
                                  [last](const book::SealRecord& seal) { return seal.number > last; });
  if (first == seals.end()) return std::nullopt;
  return *first;
}

std::optional<Code> code_of(const book::SealRecord& seal) {
  const auto code = book::qr_code(book::seal_text(seal));
  if (!code) return std::nullopt;
  return Code{*code, {}};
}

void add_chain(Document& document, const Record& record, sheet::Show show) {
  const book::Audit& audit = record.audit;
  document.add(Paragraph{
      say::text(
          show,
          "Level book {}, {} entries up to {} UTC. Each entry carries a SHA-256 hash over the former "
          "one's hash and its own content. The chain was walked for this report from the first entry to "
          "the last: it is whole, and the file is sound. A chain cannot show that its end was cut off or "
          "that all of it was written anew; a seal noted outside of the book can.",
          record.book_name, audit.entries, minute_of(record.as_of)),
      say::said(show, "Chain.")});
}

void add_seals(Document& document, const Record& record, book::Number last, sheet::Show show) {
  Table seals{say::said(show, "Seals that stand for all of it"),
              columns(say::said(show, ">seal|short form|made (UTC)|hash")),
              {},
              say::text(show, "To be compared later:  hangtrue audit {} --seal \"NUMBER SHORT-FORM\"",
                        record.book_name)};
  for (const book::SealRecord& seal : record.audit.seals)
    if (seal.number > last)
      seals.rows.push_back(
          {{std::to_string(seal.number), book::short_form(seal.hash), minute_of(seal.time), seal.hash}});
  if (seals.rows.empty()) {
    document.add(
        Box{say::said(show, "NOT SEALED"),
            "",
            {say::text(show,
                       "No seal in the level book stands for what this report says. Seal it (hangtrue seal "
                       "{}), note number and short form on paper or by mail, and make the report again.",
                       record.book_name)},
            true});
    return;
  }
  const auto seal = seal_for(record, last);
  // Before the table, so that it never stands alone on the last page.
  if (std::optional<Code> code = code_of(*seal)) {
    code->lines = {say::text(show, "Seal {}", seal->number), book::short_form(seal->hash),
                   say::text(show, "made {} UTC; it stands for the {} entries before it.",
                             minute_of(seal->time), seal->number - 1),
                   say::text(show, "The code says: {}", book::seal_text(*seal))};
    document.add(*std::move(code));
  }
  document.add(std::move(seals));
}

}  // namespace

Document begin(const std::string& kind, const sheet::RunSheet& run, const std::string& survey,
               const Record& record, Paper paper) {
  Document document;
  document.paper = paper;
  document.title = kind + ": " + run.title + ", " + survey;
  document.language = run.show.language == sheet::Language::german ? "de" : "en";
  Words& words = document.words;
  for (std::string* const word :
       {&words.of, &words.fill_in, &words.table, &words.figure, &words.told, &words.range, &words.limit})
    *word = say::said(run.show, *word);
  document.subject = say::text(run.show, "{} from the level book {}", kind, record.book_name);
  document.head_left = run.title;
  document.head_right = kind + ", " + survey;
  document.foot = say::text(run.show, "Level book {} as of entry {}, {} UTC.  Shape, not strength.",
                            record.book_name, record.audit.entries, minute_of(record.as_of));
  document.date = record.as_of;
  return document;
}

void add_seal(Title& title, const Record& record, book::Number last, sheet::Show show) {
  if (const auto seal = seal_for(record, last)) {
    title.facts.push_back({say::said(show, "Seal"), std::to_string(seal->number) + "  " +
                                                        book::short_form(seal->hash) + ", " +
                                                        minute_of(seal->time) + " UTC"});
    if ((title.code = code_of(*seal)))
      title.code->lines = {say::text(show, "Seal {}", seal->number), book::short_form(seal->hash)};
  } else {
    title.facts.push_back({say::said(show, "Seal"), say::said(show, "NOT SEALED")});
  }
}

void add_signatures(Document& document, const book::Naming& naming, sheet::Show show) {
  const auto field = [&](const char* name, const std::string& value) {
    return Fact{say::said(show, name), value};
  };
  document.add(
      Fields{{field("Place", ""), field("Date", ""), field("Read by", naming.read_by), field("Signature", ""),
              field("Second person", naming.checked_by), field("Signature", "")}});
}

std::string survey_name(const std::string& id, const book::Naming& naming) {
  return naming.called.empty() ? id : id + " (" + naming.called + ')';
}

void add_cautions(Document& document, sheet::Show show) {
  document.add(Box{say::said(show, "CAUTION"), "", say::caution_sentences(show), true});
}

void add_cautions_and_record(Document& document, const Record& record, book::Number last, sheet::Show show) {
  document.add(Heading{say::said(show, "Cautions")});
  add_cautions(document, show);
  document.add(Heading{say::said(show, "Seal and level book")});
  add_chain(document, record, show);
  add_seals(document, record, last, show);
}

}  // namespace hangtrue::report
