#include "tools/report/common/kit.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/words.hpp"
#include "tools/report/common/figures.hpp"

namespace hangtrue::report {

namespace {

std::string calibration_words(const sheet::KitInstrument& instrument) {
  const auto& stated = instrument.calibration;
  if (!stated) return "NO CALIBRATION STATED";
  return "calibrated " + (stated->date.empty() ? "on a date not stated" : stated->date) +
         (stated->due.empty() ? "" : ", due " + stated->due) +
         (stated->certificate.empty() ? ", no certificate named" : ", certificate " + stated->certificate);
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

std::string sigma_words(const sheet::KitChannel& channel, double sigma, const Figures& figures) {
  if (!is_measured_of_run(channel.gives) || !(sigma > 0)) return "-";
  return channel.gives == Channel::distance ? figures.sigma(sigma) : figures.slope(sigma);
}

std::string range_words(const sheet::KitChannel& channel, const Figures& figures) {
  if (!channel.range_from || !channel.range_to) return "-";
  const auto shown = [&](double value) {
    return channel.gives == Channel::distance ? figures.place(value) : sheet::show_slope(value, figures.show);
  };
  return shown(*channel.range_from) + " to " + shown(*channel.range_to);
}

Table instruments_of(const sheet::KitSheet& kit, const Papers& papers, const Figures& figures) {
  Table table{
      "Instruments of survey " + papers.booked.record.begun.id + " (kit sheet " + papers.kit_file + ")",
      columns("gives|>sigma of one reading|>sigma of zero, unchecked|>feet apart|>range"),
      {}};
  for (const sheet::KitInstrument& instrument : kit.instruments) {
    table.rows.push_back({{instrument_mark(&kit, instrument.name) + "   " + instrument.name + ": " +
                           calibration_words(instrument) + " (" + speech(instrument) + ")"},
                          true});
    for (const sheet::KitChannel& channel : instrument.channels)
      table.rows.push_back(
          {{std::string(say::word(channel.gives)), sigma_words(channel, channel.sigma, figures),
            sigma_words(channel, channel.zero_sigma, figures),
            channel.base_m > 0 ? figures.place(channel.base_m) : "-", range_words(channel, figures)}});
  }
  return table;
}

std::string counts_words(bool counts) { return counts ? "yes" : "no, a later one does"; }

Row row_of(const book::ZeroCheck& zero, const book::NumberedEntry& entry, const sheet::KitSheet& kit,
           const job::Checks& counted, const Figures& figures) {
  const bool counts =
      std::any_of(counted.zeros.begin(), counted.zeros.end(), [&](const job::CheckedZero& it) {
        return it.channel.instrument == zero.instrument && word(it.channel.channel) == zero.channel &&
               it.time == entry.entry.time;
      });
  return {{std::to_string(entry.number), say::date_of(entry.entry.time),
           "zero of " + instrument_mark(&kit, zero.instrument) + ' ' + zero.channel + ", " +
               std::to_string(zero.face_1.size()) + " pairs of faces",
           figures.slope(zero.zero), figures.slope(zero.sigma),
           zero.temperature_C ? say::temperature_words(*zero.temperature_C, figures.show) : "-",
           counts_words(counts)},
          false,
          !counts};
}

Row row_of(const book::DatumCheck& datum, const book::NumberedEntry& entry, const sheet::KitSheet& kit,
           const job::Checks& counted, const Figures& figures) {
  const bool counts =
      std::any_of(counted.tilts.begin(), counted.tilts.end(), [&](const job::CheckedTilt& it) {
        return it.instrument == datum.instrument && it.time == entry.entry.time;
      });
  return {{std::to_string(entry.number), say::date_of(entry.entry.time),
           "datum tilt of " + instrument_mark(&kit, datum.instrument) + ", " + figures.place(datum.near_m) +
               " to " + figures.place(datum.far_m),
           figures.slope(datum.tilt_rad), figures.slope(datum.sigma_rad),
           datum.temperature_C ? say::temperature_words(*datum.temperature_C, figures.show) : "-",
           counts_words(counts)},
          false,
          !counts};
}

Row row_of(const book::ScaleCheck& scale, const book::NumberedEntry& entry, const sheet::KitSheet& kit,
           const job::Checks& counted, const Figures& figures) {
  const bool counts =
      scale.sound &&
      std::any_of(counted.scales.begin(), counted.scales.end(), [&](const job::CheckedScale& it) {
        return it.channel.instrument == scale.instrument && word(it.channel.channel) == scale.channel &&
               it.time == entry.entry.time;
      });
  return {{std::to_string(entry.number), say::date_of(entry.entry.time),
           "scale of " + instrument_mark(&kit, scale.instrument) + ' ' + scale.channel +
               (scale.feet_m > 0 ? ", by a piece of " : ", by two places ") +
               sheet::show_length(scale.length_m, figures.show) + (scale.feet_m > 0 ? "" : " apart"),
           fmt::format("{:.3f}", scale.scale), fmt::format("{:.3f}", scale.sigma),
           scale.temperature_C ? say::temperature_words(*scale.temperature_C, figures.show) : "-",
           scale.sound ? counts_words(counts) : "no, it failed"},
          false,
          !counts};
}

}  // namespace

std::string instrument_mark(const sheet::KitSheet* kit, const std::string& name) {
  if (kit != nullptr)
    for (std::size_t i = 0; i < kit->instruments.size(); ++i)
      if (kit->instruments[i].name == name) return "K" + std::to_string(i + 1);
  return name;
}

void add_kit(Document& document, const sheet::RunSheet& run, const Papers& papers, const Record& record,
             bool with_warnings) {
  if (!papers.kit) {
    document.add(Paragraph{"The level book holds no kit sheet that can be read for this survey."});
    return;
  }
  const sheet::KitSheet& kit = *papers.kit;
  const Figures figures{run.show};
  document.add(instruments_of(kit, papers, figures));

  const job::Checks& counted = papers.booked.checks;
  Table checks{"Checks of the instruments in the level book, up to this survey",
               columns(">entry|date|what|>found|>\xC2\xB1|>at|counts"),
               {}};
  for (const book::NumberedEntry& each : record.checks) {
    if (each.number > papers.booked.record.last) continue;
    if (const auto* const zero = std::get_if<book::ZeroCheck>(&each.entry.content))
      checks.rows.push_back(row_of(*zero, each, kit, counted, figures));
    else if (const auto* const datum = std::get_if<book::DatumCheck>(&each.entry.content))
      checks.rows.push_back(row_of(*datum, each, kit, counted, figures));
    else if (const auto* const scale = std::get_if<book::ScaleCheck>(&each.entry.content))
      checks.rows.push_back(row_of(*scale, each, kit, counted, figures));
  }
  if (checks.rows.empty())
    document.add(Paragraph{
        "The level book holds no check of these instruments up to this survey: zero errors and the "
        "datum's tilt are known beforehand only as well as the sheets state, and beyond that from the "
        "survey itself (both faces, several set-ups).",
        "Not checked."});
  else
    document.add(std::move(checks));
  if (with_warnings && !counted.warnings.empty()) {
    document.add(Paragraph{"", "What to know of the kit"});
    document.add(Items{say::warnings(counted.warnings, run.show)});
  }
}

}  // namespace hangtrue::report
