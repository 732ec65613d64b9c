#include "tools/report/parts.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdio>

#include "core/quantity/units.hpp"
#include "firmware-host/book/short_form.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/cautions.hpp"
#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::report {

using sheet::show_fine;
using sheet::show_length;

std::string typeset(std::string words) {
  for (std::size_t at = 0; (at = words.find(" +- ", at)) != std::string::npos; ++at)
    words.replace(at, 4, " \xC2\xB1 ");
  return words;
}

std::string minute_of(const std::string& time) {
  std::string text = time.substr(0, 16);
  std::replace(text.begin(), text.end(), 'T', ' ');
  return text;
}

std::string bare(const std::string& shown) {
  const std::size_t end = shown.find(' ');
  return shown.substr(0, end);
}
std::string fine_unit(sheet::Show show) { return show == sheet::Show::metric ? "mm" : "in"; }

std::string fixed(double value, int digits) {
  if (!std::isfinite(value)) return "-";
  char text[64];
  std::snprintf(text, sizeof text, "%.*f", digits, value);
  const std::string shown = text;
  return shown.starts_with('-') && shown.find_first_not_of("-0.") == std::string::npos ? shown.substr(1)
                                                                                       : shown;
}
std::string sigma_words(double length_m, sheet::Show show) {
  return show == sheet::Show::metric ? show_fine(length_m, show) : fixed(length_m / kInch_m, 4) + " in";
}
std::string p_words(double p) { return p < 0.001 ? "below 0.001" : fixed(p, 3); }

std::string letter(std::size_t support) { return std::string(1, char('A' + int(support))); }

std::vector<Holding> holdings_at(const sheet::RunSheet& run, int stage) {
  std::vector<Holding> holdings;
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    if (run.beam_stages[std::size_t(stage)].lists_support(int(i)))
      holdings.push_back(
          {run.beam_supports[i].at_m, letter(i), run.beam_supports[i].holds == beam::Holds::pull});
  return holdings;
}
std::string holding_names(const sheet::RunSheet& run) {
  std::string names;
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    names += (names.empty() ? "" : ", ") + letter(i) + ' ' + run.supports[i].name;
  return names + '.';
}

std::string instrument_mark(const sheet::KitSheet* kit, const std::string& name) {
  if (kit != nullptr)
    for (std::size_t i = 0; i < kit->instruments.size(); ++i)
      if (kit->instruments[i].name == name) return "K" + std::to_string(i + 1);
  return name;
}

std::string quantity_value(const job::Quantity& quantity, sheet::Show show) {
  return quantity.kind == job::QuantityKind::slope ? say::fine_slope_words(quantity.value, show)
                                                   : say::value(quantity, show);
}
std::string quantity_sigma(const job::Quantity& quantity, sheet::Show show) {
  if (quantity.kind == job::QuantityKind::height) return sigma_words(quantity.sigma, show);
  return quantity.kind == job::QuantityKind::slope ? say::fine_slope_words(quantity.sigma, show)
                                                   : say::sigma(quantity, show);
}

std::string upper(std::string text) {
  for (char& c : text) c = char(std::toupper(static_cast<unsigned char>(c)));
  return text;
}

namespace {

/// As the sheet wrote it, where the stock still has it.
std::string piece_label(const sheet::RunSheet& run, int support, double thickness_m) {
  if (support >= 0 && run.supports[std::size_t(support)].adjust.stock >= 0)
    for (const sheet::PieceOfStock& piece :
         run.stocks[std::size_t(run.supports[std::size_t(support)].adjust.stock)].pieces)
      if (std::abs(piece.thickness_m - thickness_m) < 1e-9) return piece.label;
  return show_length(thickness_m, run.show);
}

}  // namespace

std::string pieces_words(const sheet::RunSheet& run, const job::StoredMove& move) {
  const int support = run.support(move.support);
  if (move.turns != 0) return say::turns_words(move.turns);
  std::string text;
  std::optional<adjust::Where> stack;
  for (const job::StoredPiece& piece : move.pieces) {
    const bool same = stack == piece.where;
    text += (text.empty() ? ""
             : same       ? " + "
                          : "; ") +
            (same || piece.where == adjust::Where::whole ? "" : std::string(say::word(piece.where)) + ": ") +
            std::to_string(piece.count) + " \xC3\x97 " + piece_label(run, support, piece.thickness_m);
    stack = piece.where;
  }
  if (!text.empty()) return text;
  return (move.rise_m < 0 ? "down " : "up ") + show_length(std::abs(move.rise_m), run.show);
}

std::string turned_words(const sheet::RunSheet& run, const job::StoredMove& move) {
  return say::motion_words(move.rise_m, move.pitch_rad, move.roll_rad, run.show);
}

// ---- kit ----------------------------------------------------------------------------------------------------------

namespace {

std::string channel_sigma(const sheet::KitChannel& channel, double value, sheet::Show show) {
  if (!(value > 0)) return "-";
  return channel.gives == Channel::distance ? sigma_words(value, show) : say::fine_slope_words(value, show);
}
std::string speech(const sheet::KitInstrument& instrument) {
  switch (instrument.speaks) {
    case sheet::Speaks::xdr:
      return "XDR sentences";
    case sheet::Speaks::modbus:
      return "Modbus RTU, address " + std::to_string(instrument.address);
    case sheet::Speaks::line:
      return "lines of text";
  }
  return "";
}
std::string range_words(const sheet::KitChannel& channel, sheet::Show show) {
  if (!channel.range_from || !channel.range_to) return "-";
  const auto shown = [&](double value) {
    return channel.gives == Channel::distance ? sheet::show_place(value, show)
                                              : sheet::show_slope(value, show);
  };
  return shown(*channel.range_from) + " to " + shown(*channel.range_to);
}

}  // namespace

void add_kit(Document& document, const sheet::RunSheet& run, const Papers& papers, const Record& record) {
  if (!papers.kit) {
    document.add(Paragraph{"The level book holds no kit sheet that can be read for this survey."});
    return;
  }
  const sheet::KitSheet& kit = *papers.kit;
  Table instruments{
      "Instruments of survey " + papers.booked.record.begun.id + " (kit sheet " + papers.kit_file + ")",
      columns("gives|>sigma of one reading|>sigma of zero, unchecked|>feet apart|>range"),
      {}};
  for (const sheet::KitInstrument& instrument : kit.instruments) {
    const std::string mark = instrument_mark(&kit, instrument.name);
    std::string calibration = "NO CALIBRATION STATED";
    if (const auto& stated = instrument.calibration) {
      calibration = "calibrated " + (stated->date.empty() ? "on a date not stated" : stated->date);
      if (!stated->due.empty()) calibration += ", due " + stated->due;
      calibration +=
          stated->certificate.empty() ? ", no certificate named" : ", certificate " + stated->certificate;
    }
    instruments.rows.push_back(
        {{mark + "   " + instrument.name + ": " + calibration + " (" + speech(instrument) + ")"}, true});
    for (const sheet::KitChannel& channel : instrument.channels) {
      const bool reads = is_measured_of_run(channel.gives);
      instruments.rows.push_back({{std::string(say::word(channel.gives)),
                                   reads ? channel_sigma(channel, channel.sigma, run.show) : "-",
                                   reads ? channel_sigma(channel, channel.zero_sigma, run.show) : "-",
                                   channel.base_m > 0 ? sheet::show_place(channel.base_m, run.show) : "-",
                                   range_words(channel, run.show)}});
    }
  }
  document.add(std::move(instruments));

  const job::Checks& counted = papers.booked.checks;
  const book::Number last = papers.booked.record.last;
  Table checks{"Checks of the instruments in the level book, up to this survey",
               columns(">entry|date|what|>found|>\xC2\xB1|>at|counts"),
               {}};
  for (const book::NumberedEntry& each : record.checks) {
    if (each.number > last) continue;
    const std::string date = say::date_of(each.entry.time);
    const auto warm = [&](const std::optional<double>& temperature) {
      return temperature ? say::temperature_words(*temperature, run.show) : std::string("-");
    };
    if (const auto* const zero = std::get_if<book::ZeroCheck>(&each.entry.content)) {
      const std::string name = zero->instrument + ' ' + zero->channel;
      const bool counts = std::any_of(
          counted.zeros.begin(), counted.zeros.end(),
          [&](const job::CheckedZero& it) { return it.channel == name && it.time == each.entry.time; });
      checks.rows.push_back(
          {{std::to_string(each.number), date,
            "zero of " + instrument_mark(&kit, zero->instrument) + ' ' + zero->channel + ", " +
                std::to_string(zero->face_1.size()) + " pairs of faces",
            say::fine_slope_words(zero->zero, run.show), say::fine_slope_words(zero->sigma, run.show),
            warm(zero->temperature_C), counts ? "yes" : "no, a later one does"},
           false,
           !counts});
    } else if (const auto* const datum = std::get_if<book::DatumCheck>(&each.entry.content)) {
      const bool counts =
          std::any_of(counted.tilts.begin(), counted.tilts.end(), [&](const job::CheckedTilt& it) {
            return it.instrument == datum->instrument && it.time == each.entry.time;
          });
      checks.rows.push_back({{std::to_string(each.number), date,
                              "datum tilt of " + instrument_mark(&kit, datum->instrument) + ", " +
                                  sheet::show_place(datum->near_m, run.show) + " to " +
                                  sheet::show_place(datum->far_m, run.show),
                              say::fine_slope_words(datum->tilt_rad, run.show),
                              say::fine_slope_words(datum->sigma_rad, run.show), warm(datum->temperature_C),
                              counts ? "yes" : "no, a later one does"},
                             false,
                             !counts});
    }
  }
  if (checks.rows.empty())
    document.add(Paragraph{
        "The level book holds no check of these instruments up to this survey: zero errors and the "
        "datum's tilt are known beforehand only as well as the sheets state, and beyond that from the "
        "survey itself (both faces, several set-ups).",
        "Not checked."});
  else
    document.add(std::move(checks));
  if (!counted.warnings.empty()) {
    document.add(Paragraph{"", "What to know of the kit"});
    document.add(Items{say::warnings(counted.warnings, run.show)});
  }
}

// ---- cautions and record ------------------------------------------------------------------------------------------

void add_cautions(Document& document) { document.add(Box{"CAUTION", "", say::caution_sentences(), true}); }

std::optional<book::SealRecord> seal_for(const Record& record, book::Number last) {
  const auto& seals = record.audit.seals;
  // The first that stands for it: the one that was noted when it was handed over.
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

void add_seal(Title& title, const Record& record, book::Number last) {
  if (const auto seal = seal_for(record, last)) {
    title.facts.push_back({"Seal", std::to_string(seal->number) + "  " + book::short_form(seal->hash) + ", " +
                                       minute_of(seal->time) + " UTC"});
    if ((title.code = code_of(*seal)))
      title.code->lines = {"Seal " + std::to_string(seal->number), book::short_form(seal->hash)};
  } else {
    title.facts.push_back({"Seal", "NOT SEALED"});
  }
}

void add_record(Document& document, const Record& record, book::Number last) {
  const book::Audit& audit = record.audit;
  document.add(Paragraph{"Level book " + record.book_name + ", " + std::to_string(audit.entries) +
                             " entries up to " + minute_of(record.as_of) +
                             " UTC. Each entry carries a SHA-256 hash over the former one's hash and its own "
                             "content. The chain was walked "
                             "for this report from the first entry to the last: it is whole, and the file is "
                             "sound. A chain cannot show "
                             "that its end was cut off or that all of it was written anew; a seal noted "
                             "outside of the book can.",
                         "Chain."});
  Table seals{"Seals that stand for all of it",
              columns(">seal|short form|made (UTC)|hash"),
              {},
              "To be compared later:  hangtrue audit " + record.book_name + " --seal \"NUMBER SHORT-FORM\""};
  for (const book::SealRecord& seal : audit.seals)
    if (seal.number > last)
      seals.rows.push_back(
          {{std::to_string(seal.number), book::short_form(seal.hash), minute_of(seal.time), seal.hash}});
  if (seals.rows.empty()) {
    document.add(Box{
        "NOT SEALED",
        "",
        {"No seal in the level book stands for what this report says. Seal it (hangtrue seal " +
         record.book_name + "), note number and short form on paper or by mail, and make the report again."},
        true});
    return;
  }
  const auto seal = seal_for(record, last);
  document.add(std::move(seals));
  if (std::optional<Code> code = code_of(*seal)) {
    code->lines = {"Seal " + std::to_string(seal->number), book::short_form(seal->hash),
                   "made " + minute_of(seal->time) + " UTC; it stands for the " +
                       std::to_string(seal->number - 1) + " entries before it.",
                   "The code says: " + book::seal_text(*seal)};
    document.add(*std::move(code));
  }
}

Document begin(const std::string& kind, const sheet::RunSheet& run, const std::string& survey,
               const Record& record, Paper paper) {
  Document document;
  document.paper = paper;
  document.title = kind + ": " + run.title + ", " + survey;
  document.subject = kind + " from the level book " + record.book_name;
  document.head_left = run.title;
  document.head_right = kind + ", " + survey;
  document.foot = "Level book " + record.book_name + " as of entry " + std::to_string(record.audit.entries) +
                  ", " + minute_of(record.as_of) + " UTC.  Shape, not strength.";
  document.date = record.as_of;
  return document;
}

}  // namespace hangtrue::report
