// workspace.hpp: memory of the shim search, and the search itself. Make one, keep it, use it for one call at a time.
// About 1 MB in double precision: not for a call stack.
#pragma once

#include "core/adjust/cure.hpp"
#include "core/adjust/level_bound.hpp"
#include "core/adjust/move_order.hpp"
#include "core/adjust/search.hpp"

namespace hangtrue::adjust {

template <class Scalar>
class Workspace {
 public:
  Workspace() = default;
  Workspace(const Workspace&) = delete;
  Workspace& operator=(const Workspace&) = delete;

 private:
  using Bound = LevelBound<Scalar>;
  using Vertex = typename Bound::Vertex;

  /// One stack as a bill of pieces.
  struct Form {
    std::int32_t thickness;  // in kUnit_m
    std::uint8_t pieces;
    std::array<std::uint8_t, kMaxPieceKinds> count;
  };
  /// All stacks that a stock allows, thinnest first, of equal ones that with the fewest pieces first. A level is a
  /// thickness: forms level_begin[l] ... level_begin[l + 1] - 1 have it.
  struct StockForms {
    int forms, levels, kinds, most;
    bool ample;  // can never run short
    std::array<Form, kMaxStackForms> form;
    std::array<std::int16_t, kMaxStackForms + 1> level_begin;
    std::array<int, kMaxPieceKinds> stock;
    std::array<std::int32_t, kMaxPieceKinds> thick;  // of a piece, in kUnit_m
    std::array<int, kMaxPieceKinds> by_thickness;    // kinds, thickest first
  };
  /// Pieces that stacks need whatever way they are made: of each kind, and of each kind and all thicker ones.
  struct Need {
    std::array<int, kMaxPieceKinds> of_kind{}, as_thick{};
  };
  /// One thickness, number of steps or height to choose: the search's variable.
  struct Setting {
    int place;
    int stock;            // -1: whole steps
    int first;            // first level of the stock, or first step
    int levels;           // how many values there are
    int zero;             // which of them is zero, -1 none
    int stacks;           // how many stacks take this thickness
    int pieces_at_least;  // over all values
    Scalar step_m;
    beam::Motions<Scalar> gives;  // rise, pitch, roll a metre of it
  };
  /// Settings of a place: begin ... begin + count - 1.
  struct PlaceSettings {
    int begin, count;
    bool plane;  // four corners, to stay in one plane
  };
  /// A complete choice of values.
  struct Best {
    bool found = false;
    Scalar error_m = 0;
    int pieces = 0, touched = 0;
    std::array<int, kMaxSettings> level{};
    std::array<std::array<std::int16_t, 4>, kMaxSettings> form{};  // of each stack of a setting
  };
  enum class Aim : std::uint8_t { least_error, fewest_pieces };

  [[nodiscard]] Result<Done, AdjustFault> prepare(const Problem<Scalar>& problem);
  [[nodiscard]] Result<Done, AdjustFault> list_forms(const Stock<Scalar>& stock, int index);
  [[nodiscard]] bool add_forms(StockForms& out, Form& form, int kind, int most, std::int32_t highest);
  [[nodiscard]] bool add_setting(const Problem<Scalar>& problem, int place, int stacks, int pitch, int roll);
  [[nodiscard]] bool add_place(const Problem<Scalar>& problem, int place);
  void find_values(const Place<Scalar>& place, Setting& setting) const;
  void add_rows(const Problem<Scalar>& problem);
  void add_stock_rows(int stock);
  [[nodiscard]] Scalar force_per(const Place<Scalar>& place, const Setting& setting, std::size_t row) const;

  [[nodiscard]] Scalar value(int setting, int level) const;
  [[nodiscard]] std::int32_t thickness(int setting, int level) const;
  [[nodiscard]] int fewest_pieces(int setting, int level) const;

  void search(const Problem<Scalar>& problem, Aim aim);
  void descend(const Problem<Scalar>& problem, int depth);
  [[nodiscard]] Scalar enough() const;
  [[nodiscard]] bool worse_than_best(Scalar error_m, int pieces, int touched) const;
  [[nodiscard]] bool try_value(const Problem<Scalar>& problem, int depth, int setting, int level,
                               bool upward);
  void complete(const Problem<Scalar>& problem);
  [[nodiscard]] int next_setting(const Vertex& here) const;
  [[nodiscard]] bool in_plane(int setting) const;
  [[nodiscard]] bool limits_hold(const Problem<Scalar>& problem) const;
  [[nodiscard]] int pieces_at_least() const;
  [[nodiscard]] int touched_at_least() const;
  /// Pieces that the settings held so far need, the fewest or just any way the stock allows; -1: it does not.
  [[nodiscard]] int pieces_from_stock(bool any);
  void find_needs();
  [[nodiscard]] bool enough_left(int item) const;
  void take_forms(int item, int pieces, int rest_at_least, bool any);
  [[nodiscard]] Choice<Scalar> report(const Problem<Scalar>& problem) const;

  Bound bound_;
  std::array<StockForms, kMaxStocks> forms_;
  std::array<Setting, kMaxSettings> setting_;
  std::array<PlaceSettings, kMaxPlaces> place_;
  std::array<Scalar, kMaxSettings> reach_;  // how unevenly a metre of a setting moves the points
  int settings_ = 0, places_ = 0, stocks_ = 0;
  bool hopeless_ = false;  // a place without any value, or a force beyond its limits that nothing moves

  // The search's path: a vertex a depth, the level of each setting or -1.
  std::array<Vertex, kMaxSettings + 1> vertex_;
  std::array<int, kMaxSettings> level_;
  Aim aim_ = Aim::least_error;
  Best best_;
  Scalar accept_m_ = 0;  // fewest_pieces: errors up to this are equal
  std::int64_t nodes_ = 0, node_limit_ = 0;
  bool stopped_ = false;

  // Stacks of the chosen thicknesses, to be made of pieces.
  struct Item {
    int setting, stock, level;
  };
  std::array<Item, 4 * kMaxSettings> item_;
  std::array<Need, 4 * kMaxSettings> need_;  // of this item and the later ones of its stock
  std::array<std::int16_t, 4 * kMaxSettings> item_form_, best_item_form_;
  int items_ = 0, best_item_pieces_ = 0;
  std::array<std::array<int, kMaxPieceKinds>, kMaxStocks> left_;

  std::array<Scalar, kMaxPoints> scratch_;

  // Orders of moves: one entry a subset.
  std::array<std::array<Scalar, kMaxPoints>, kMaxPlaces> effect_;
  struct Subset {
    Scalar error_m, climb_m;
    std::int8_t broken, breaks_here;
  };
  std::array<Subset, std::size_t(1) << kMaxPlaces> subset_;

  template <class S>
  friend Result<Choice<S>, AdjustFault> choose(const Problem<S>&, Workspace<S>&);
  template <class S>
  friend MoveOrder<S> order_moves(const Problem<S>&, const Choice<S>&, Workspace<S>&);
  template <class S>
  friend Result<Cure<S>, AdjustFault> find_cure(const Problem<S>&, std::span<const S>, S, Workspace<S>&);
};

}  // namespace hangtrue::adjust
