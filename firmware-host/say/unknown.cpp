#include "firmware-host/say/unknown.hpp"

#include <cstdlib>

#include "firmware-host/say/language.hpp"

namespace hangtrue::say {

namespace {

using job::UnknownOf;

std::string unchanged_words(const job::UnknownId& id, sheet::Show show) {
  switch (id.of) {
    case UnknownOf::support_rise:
      return text(show, "{}: rise", id.name);
    case UnknownOf::support_pitch:
      return text(show, "{}: pitch", id.name);
    case UnknownOf::support_roll:
      return text(show, "{}: roll", id.name);
    case UnknownOf::spring_rise:
      return text(show, "{}: rise spring", id.name);
    case UnknownOf::spring_pitch:
      return text(show, "{}: pitch spring", id.name);
    case UnknownOf::spring_roll:
      return text(show, "{}: roll spring", id.name);
    case UnknownOf::give_rise:
      return text(show, "{}: rise give", id.name);
    case UnknownOf::give_pitch:
      return text(show, "{}: pitch give", id.name);
    case UnknownOf::give_roll:
      return text(show, "{}: roll give", id.name);
    case UnknownOf::move_rise:
      return text(show, "{}: rise moved", id.name);
    case UnknownOf::move_pitch:
      return text(show, "{}: pitch moved", id.name);
    case UnknownOf::move_roll:
      return text(show, "{}: roll moved", id.name);
    case UnknownOf::bending:
      return said(show, "bending stiffness");
    case UnknownOf::torsion:
      return said(show, "torsion stiffness");
    case UnknownOf::load:
      return text(show, "load {}", id.name);
    case UnknownOf::unlisted_load:
      return text(show, "unlisted load at {}", sheet::show_place(1e-3 * id.number, show));
    case UnknownOf::bow:
      return text(show, "bow {}", id.number);
    case UnknownOf::datum_height:
      return text(show, "set-up {}: datum height", id.name);
    case UnknownOf::datum_tilt:
      return text(show, "set-up {}: datum tilt", id.name);
    case UnknownOf::zero:
      return text(show, "{}: zero", name_words(job::ChannelId{id.name, id.channel}, show));
    case UnknownOf::mark_height:
      return text(show, "mark {}: height", id.name);
    case UnknownOf::drift_share:
      return said(show, "expected drift");
  }
  std::abort();  // every enumerator stands above
}

}  // namespace

std::string name_words(const job::UnknownId& id, sheet::Show show) {
  const std::string words = unchanged_words(id, show);
  return id.change ? text(show, "{} changed", words) : words;
}

std::string name_words(const job::ChannelId& id, sheet::Show show) {
  return id.instrument + ' ' + channel_words(id.channel, show);
}

}  // namespace hangtrue::say
