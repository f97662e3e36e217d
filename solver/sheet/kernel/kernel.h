// What do the membrane kernels take and give? Plain numbers and pointers only.
//
// docs/theory/kernels.md. The kernels are compiled once for every instruction set that one program may meet, each time
// under a name of its own. So that no inline function compiled for a newer processor takes the place of its namesake in
// the rest of the program, they include this header and nothing of the standard library or of Eigen.
#pragma once

#include "solver/sheet/kernel/motion.h"
#include "solver/sheet/rest.h"

#include <cstdint>

namespace pellicle::sheet {

inline constexpr int kGroup = 8;  ///< elements, or pairs of them, that are worked off together, whatever the processor

inline constexpr int kSums = 8;   ///< numbers kept of a node's sums: force, 0, area, 0
inline constexpr int kPlace = 4;  ///< numbers kept of a node's place: x, y, z, 0

/// Eight pairs of elements (element_pairs.h) as structure of arrays. `corner` holds kSums times the number within the
/// block of o, p, q and r, so that a processor finds place and sum without arithmetic. An element without a partner has
/// a second one of no size, r being o. Where the pairs of a block do not fill its last group, that number is one past
/// the block's nodes, a place and a sum that nobody reads.
struct alignas(64) Group {
  struct Flat {
    double m11_per_m2[kGroup], m12_per_m2[kGroup], m22_per_m2[kGroup];
    double inverse_det_per_m4[kGroup], volume_m3[kGroup];
  };
  Flat flat[2];
  std::uint16_t corner[4][kGroup];
};

/// A law of polymer.h as numbers.
struct LawNumbers {
  enum Kind { kNeoHookean, kMooneyRivlin, kYeoh, kOgden };
  static constexpr int kMostTerms = 6;
  Kind kind;
  int terms;                      ///< Ogden
  double modulus_Pa[kMostTerms];  ///< mu; c10, c01; c10, c20, c30; mu_p of Ogden
  double alpha[kMostTerms];       ///< Ogden
  int whole[kMostTerms];          ///< Ogden: alpha/2 where that is whole and small, so that powers are products; else 0
};

/// A block of nodes with every pair of elements that touches one of them.
struct BlockView {
  const int* nodes;  ///< its own, then the others of its pairs: numbers in the sheet
  int own, local;    ///< how many are its own, how many there are
  bool in_a_row;     ///< its own have numbers in a row
  const Group* groups;
  int group_count;
};

/// The sheet, node by node: three numbers each, one for `moved` and `renewed`.
struct NodesView {
  const double* x_m;
  const char* moved;
  double* force_N;
  double* area_m2;
  char* renewed;  ///< set to 1 where force and area are made anew; never to 0
};

/// Room to work in, local + 1 nodes of a block: aligned to 64 bytes.
struct ScratchView {
  double* place;  ///< kPlace a node
  double* sum;    ///< kSums a node; zero, and left so
  char* wanted;   ///< 1 a node
};

/// The sheet, element by element, for the passes that are asked for now and then.
struct ElementsView {
  const double* x_m;     ///< 3 a node
  const int* triangles;  ///< 3 an element
  const Rest* rest;
};

/// What the modes of eight elements remember (relaxation.h), as it lies there: kGroup numbers side by side.
struct ModesView {
  int modes;
  const double *modulus_Pa, *time_s;  ///< a number a mode
  double* lanes;                      ///< four times kGroup a mode: N11, N12, N22, N33
  double* last;                       ///< four times kGroup: inverse metric at the end of the last step, and its b
};

struct Kernels {
  const char* name;
  /// Force and area of the nodes of one block. What nothing around has moved keeps both.
  void (*forces)(const LawNumbers&, const NodesView&, const BlockView&, const ScratchView&);
  /// Of the elements first ... first + count - 1, count <= kGroup; kGroup values are written.
  void (*energies_J)(const LawNumbers&, const ElementsView&, int first, int count, double* energy_J);
  /// The same, of w^2 x density [Pa/m^2]; not a number where a place is none.
  void (*stiffnesses_Pa_per_m2)(const LawNumbers&, const ElementsView&, int first, int count, double* stiffness);
  /// `remember` and `mode_energy_Pa` of relaxation.h over a step that ends at `metric` (three times kGroup), kGroup
  /// values of the material's clock, of the energy lost and of that which is left.
  void (*remember)(const ModesView&, const double* metric, const double* inverse_det_per_m4, const double* reduced_s,
                   double* lost_Pa, double* energy_Pa);
  /// `carried_sum` of relaxation.h: four times kGroup sums.
  void (*carry)(const ModesView&, const double* reduced_s, double* sums);
  /// motion.h, of those nodes among kLot from `first` on that are wanted. `predict` is for nodes that nothing holds,
  /// and says nothing of what it predicts for the others; `hold` is for those that lie still on the mould; `push` adds
  /// what the gas above does.
  void (*predict)(const MotionStep&, const MovingNodes&, int first, LotNodes wanted, GasSums&);
  void (*hold)(const MotionStep&, const MovingNodes&, int first, LotNodes wanted, GasSums&);
  void (*push)(const MotionStep&, const MovingNodes&, int first, LotNodes wanted, double pressure_Pa);
  /// None of them goes farther in this step, at its predicted velocity; not a number where one is none.
  double (*way_m)(const MotionStep&, const MovingNodes&, int first, LotNodes wanted);
  /// Nodes that nothing stops take their predicted velocity and go on with it.
  void (*move)(const MotionStep&, const MovingNodes&, int first, LotNodes wanted, NodeSums&);
  /// Which of those that lay still are pressed on, so that they lie on? They are booked; with what velocity stands in
  /// kLot values.
  LotNodes (*lie)(const MotionStep&, const MovingNodes&, int first, LotNodes wanted, double pressure_Pa, NodeSums&,
                  double* inward_m_s);
  /// Functions of kGroup numbers, for the tests of their accuracy.
  void (*log)(const double* x, double* log_x);
  void (*exp)(const double* x, double* exp_x);
};

}  // namespace pellicle::sheet
