#include "firmware-host/job/unknown_id.hpp"

#include <cstddef>
#include <cstdlib>

namespace hangtrue::job {

QuantityKind kind_of(const UnknownId& id) {
  switch (id.of) {
    case UnknownOf::support_rise:
    case UnknownOf::move_rise:
    case UnknownOf::bow:
    case UnknownOf::datum_height:
    case UnknownOf::mark_height:
      return QuantityKind::height;
    case UnknownOf::support_pitch:
    case UnknownOf::support_roll:
    case UnknownOf::move_pitch:
    case UnknownOf::move_roll:
    case UnknownOf::datum_tilt:
      return QuantityKind::slope;
    case UnknownOf::zero:
      return id.channel == Channel::distance ? QuantityKind::height : QuantityKind::slope;
    case UnknownOf::bending:
    case UnknownOf::torsion:
    case UnknownOf::load:
      return id.change ? QuantityKind::share : QuantityKind::factor;
    case UnknownOf::unlisted_load:
      return QuantityKind::weight;
    case UnknownOf::spring_rise:
    case UnknownOf::spring_pitch:
    case UnknownOf::spring_roll:
      return QuantityKind::log_factor;
    case UnknownOf::give_rise:
      return QuantityKind::give;
    case UnknownOf::give_pitch:
    case UnknownOf::give_roll:
      return QuantityKind::turning_give;
    case UnknownOf::drift_share:
      return QuantityKind::share;
  }
  std::abort();  // every enumerator stands above
}

std::string name_of(const ChannelId& id) { return id.instrument + ' ' + std::string(word(id.channel)); }

std::string name_of(const UnknownId& id) {
  const auto named = [&]() -> std::string {
    switch (id.of) {
      case UnknownOf::support_rise:
        return id.name + ": rise";
      case UnknownOf::support_pitch:
        return id.name + ": pitch";
      case UnknownOf::support_roll:
        return id.name + ": roll";
      case UnknownOf::spring_rise:
        return id.name + ": rise spring";
      case UnknownOf::spring_pitch:
        return id.name + ": pitch spring";
      case UnknownOf::spring_roll:
        return id.name + ": roll spring";
      case UnknownOf::give_rise:
        return id.name + ": rise give";
      case UnknownOf::give_pitch:
        return id.name + ": pitch give";
      case UnknownOf::give_roll:
        return id.name + ": roll give";
      case UnknownOf::move_rise:
        return id.name + ": rise moved";
      case UnknownOf::move_pitch:
        return id.name + ": pitch moved";
      case UnknownOf::move_roll:
        return id.name + ": roll moved";
      case UnknownOf::bending:
        return "bending stiffness";
      case UnknownOf::torsion:
        return "torsion stiffness";
      case UnknownOf::load:
        return "load " + id.name;
      case UnknownOf::unlisted_load:
        return "unlisted load at " + std::to_string(id.number) + " mm";
      case UnknownOf::bow:
        return "bow " + std::to_string(id.number);
      case UnknownOf::datum_height:
        return "set-up " + id.name + ": datum height";
      case UnknownOf::datum_tilt:
        return "set-up " + id.name + ": datum tilt";
      case UnknownOf::zero:
        return name_of(ChannelId{id.name, id.channel}) + ": zero";
      case UnknownOf::mark_height:
        return "mark " + id.name + ": height";
      case UnknownOf::drift_share:
        return "expected drift";
    }
    std::abort();  // every enumerator stands above
  };
  return named() + (id.change ? " changed" : "");
}

UnknownId id_of(const sheet::RunSheet& run, beam::Parameter shape) {
  using Kind = beam::ParameterKind;
  const auto of_support = [&](UnknownOf of) {
    return UnknownId{of, run.supports[std::size_t(shape.index)].name};
  };
  switch (shape.kind) {
    case Kind::offset_rise:
      return of_support(UnknownOf::support_rise);
    case Kind::offset_pitch:
      return of_support(UnknownOf::support_pitch);
    case Kind::offset_roll:
      return of_support(UnknownOf::support_roll);
    case Kind::spring_rise:
      return of_support(UnknownOf::spring_rise);
    case Kind::spring_pitch:
      return of_support(UnknownOf::spring_pitch);
    case Kind::spring_roll:
      return of_support(UnknownOf::spring_roll);
    case Kind::give_rise:
      return of_support(UnknownOf::give_rise);
    case Kind::give_pitch:
      return of_support(UnknownOf::give_pitch);
    case Kind::give_roll:
      return of_support(UnknownOf::give_roll);
    case Kind::move_rise:
      return of_support(UnknownOf::move_rise);
    case Kind::move_pitch:
      return of_support(UnknownOf::move_pitch);
    case Kind::move_roll:
      return of_support(UnknownOf::move_roll);
    case Kind::bending:
      return {UnknownOf::bending};
    case Kind::torsion:
      return {UnknownOf::torsion};
    case Kind::load:
      return {UnknownOf::load, run.loads[std::size_t(shape.index)].name};
    case Kind::bow:
      return {.of = UnknownOf::bow, .number = shape.index + 1};
  }
  std::abort();  // every enumerator stands above
}

UnknownId id_of(const sheet::RunSheet& run, const fit::Unknown& unknown, std::span<const std::string> set_ups,
                std::span<const ChannelId> zeros) {
  const auto index = std::size_t(unknown.index);
  switch (unknown.kind) {
    case fit::UnknownKind::shape:
      return id_of(run, unknown.shape);
    case fit::UnknownKind::change: {
      UnknownId id = id_of(run, unknown.shape);
      id.change = true;
      return id;
    }
    case fit::UnknownKind::datum_height:
    case fit::UnknownKind::datum_tilt:
      return {
          unknown.kind == fit::UnknownKind::datum_height ? UnknownOf::datum_height : UnknownOf::datum_tilt,
          index < set_ups.size() ? set_ups[index] : std::string()};
    case fit::UnknownKind::zero:
      return index < zeros.size() ? UnknownId{UnknownOf::zero, zeros[index].instrument, zeros[index].channel}
                                  : UnknownId{UnknownOf::zero};
    case fit::UnknownKind::mark_height:
    case fit::UnknownKind::mark_change: {
      UnknownId id{UnknownOf::mark_height, run.marks[index].name};
      id.change = unknown.kind == fit::UnknownKind::mark_change;
      return id;
    }
    case fit::UnknownKind::drift_share:
      return {UnknownOf::drift_share};
  }
  std::abort();  // every enumerator stands above
}

}  // namespace hangtrue::job
