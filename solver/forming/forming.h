// How does the sheet move from flat to formed? The explicit loop: membrane, gas, mould, step by step, with its books
// kept.
//
// docs/theory/time.md. Central differences with lumped, scaled mass and mass damping relative to the clamp; the energy
// ledger is closed every few steps and stops a run that does not add up.
#pragma once

#include "mesh/sheet_mesher.h"
#include "solver/forming/contact.h"
#include "solver/forming/corner_contact.h"
#include "solver/forming/energy.h"
#include "solver/forming/forming_result.h"
#include "solver/forming/forming_spec.h"
#include "solver/forming/frame.h"
#include "solver/forming/gas.h"
#include "solver/forming/snapshot.h"
#include "solver/forming/stage.h"
#include "solver/forming/trapped_air.h"
#include "solver/mould/rigid_mould.h"
#include "solver/sheet/kernel/kernel.h"
#include "solver/sheet/ordered_sum.h"
#include "solver/sheet/sheet_state.h"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace pellicle::forming {

/// The books are closed at least this often.
inline constexpr std::int64_t kBookSteps = 25;

/// So much longer a step may be than the one before; it shrinks at once.
inline constexpr double kMostStepGrowth = 1.05;

/// Seconds spent in one line of the loop.
struct StageTime {
  std::string name;
  double seconds;
};

/// What is wrong with an element: nothing, or it has run away, or it lies on the mould with its gas side down.
enum class Trouble { kNone, kRunsAway, kTurnedOver };

/// Where forming sends what it makes.
struct FormingSinks {
  std::function<void(int index, const FormingResult&)> frame = [](int, const FormingResult&) {};
  std::function<void(const HistoryRow&)> history = [](const HistoryRow&) {};
  std::function<void(const Progress&)> progress = [](const Progress&) {};
  std::function<bool()> stop = [] { return false; };
  std::function<bool()> keep_due = [] { return false; };  ///< asked as often as stop: is a snapshot wanted now?
  std::function<void(const Snapshot&)> keep = [](const Snapshot&) {};
};

/// All that one step needs to know of time, made anew for each: x(t + dt) = x + v dt, v is advanced by mid_dt, the mean
/// of this step and the last; keep is (1 - a dt/2)/(1 + a dt/2), push dt/(1 + a dt/2).
struct StepContext : sheet::MotionStep {
  std::int64_t step;
  double time_s, end_s;
  double last_clamp_m_s;
};

/// One case on its way. The spec and the mould must outlive it.
class Forming {
 public:
  Forming(const FormingSpec& spec, const mould::RigidMould& mould, const mesh::SheetMesh& sheet,
          LedgerTamper tamper = {});
  /// Goes on from a snapshot: same bits as if it had never stopped.
  Forming(const FormingSpec& spec, const mould::RigidMould& mould, const Snapshot& from);

  /// Runs to the end of the last stage, or until sinks.stop says so; true when done. Throws Error (solution) when the
  /// run cannot be trusted any more; the last good frame has been sent by then.
  bool run(const FormingSinks& sinks);

  /// Cuts the wanted elements, whatever the rule would say, and books what that changes; returns the number of new
  /// nodes. Called between steps: by the run itself, and by tests.
  int refine(const std::vector<char>& wanted);

  Snapshot snapshot() const;
  FormingResult result() const;
  Penetration deepest_penetration() const;
  /// Sum over the steps of the number of elements.
  std::int64_t element_updates() const { return snap_.element_updates; }
  const std::vector<StageReport>& stages() const { return snap_.reports; }
  const std::vector<StageTime>& profile() const { return profile_; }
  double worst_balance() const { return snap_.worst_balance; }
  const sheet::SheetState& state() const { return state_; }

 private:
  /// What nodes feel that lie still, while nothing around them moves.
  struct Still {
    std::vector<double> pull_N, bears_m2;  ///< N, membrane force and area vector along the normal of what it lies on
    std::vector<double> normal_z;          ///< N
    void resize(std::size_t n) { pull_N.resize(n), bears_m2.resize(n), normal_z.resize(n); }
  };
  /// Nodes of a lot that nothing holds, that have never met the mould, and that are no nearer to it than `room_m`.
  struct Free {
    double room_m = 0.0;
    sheet::LotNodes nodes = 0;
    bool is_new = true;  ///< nobody has looked yet
  };
  struct StiffnessSums {
    double power_W = 0, kinetic2_J = 0;
    StiffnessSums& operator+=(const StiffnessSums& o);
  };

  void set_up();
  void leave_heater();
  void weigh();
  bool done() const { return snap_.stage >= schedule_.stages(); }

  // The lines of the loop, in order.
  StepContext next_step();
  void follow_frequency(const StepContext& step);
  void update_gas(const StepContext& step);
  void add_gas_pressure(const StepContext& step);
  void push_back_air(const StepContext& step);
  void look_at_edges(const StepContext& step);
  void meet_mould(const StepContext& step);
  void follow_air(const StepContext& step);
  void exchange_heat();
  void remember_layers();
  void close_ledger(const StepContext& step);
  void refine_where_needed(const StepContext& step);
  void find_air(const StepContext& step);

  // Around it.
  void set_up_air();
  void open_under_bridges();
  bool air_leaves() const;
  double most_back_Pa() const;
  void tell_air(FormingResult& result) const;
  /// What drives a node down: gas above less air below.
  double net_Pa(int node) const { return snap_.pressure_Pa - back_Pa_[static_cast<std::size_t>(node)]; }
  void begin_stage();
  double travelling_m() const;
  void end_stage();
  void scale_mass(double factor);
  void change_pace(double mass_factor);
  double kinetic_J() const;
  bool rides_along() const;
  void end_ride();
  void grow_mass();
  void grow_mass_with_contact();
  double stable_limit_s();
  void refresh_limit();
  double full_volume_m3() const;
  double clamp_at_m(double time_s) const;
  double drive_pressure_Pa(const StepContext& step, const VolumeResponse& response);
  sheet::MovingNodes moving();
  sheet::LotNodes free_in(int first, int count) const;
  sheet::LotNodes at_rest_in(int first, int count) const;
  double room_of_node_m(int node, double wanted_m);
  void find_free(int first, sheet::LotNodes among, double reach_m);
  sheet::LotNodes move_free(const StepContext& step, int first, sheet::NodeSums& sums);
  sheet::LotNodes lie_on(const StepContext& step, int first, sheet::NodeSums& sums);
  void predict_node(const StepContext& step, int node, sheet::GasSums& sums);
  void push_node(const StepContext& step, int node);
  void meet_lot(const StepContext& step, int first, int count, sheet::NodeSums& sums);
  void meet_node(const StepContext& step, int node, sheet::NodeSums& sums);
  void move_node(const StepContext& step, int node);
  bool feels_as_before(int node) const;
  mesh::Vec3 without_gas_m_s(const StepContext& step, int node) const;
  void look_at_still(int node, const mesh::Vec3& normal);
  double pressed_on_m_s(const StepContext& step, int node) const;
  void lie_still(const StepContext& step, int node, bool touches_otherwise, sheet::NodeSums& sums);
  Meeting meet_planes(const StepContext& step, int node, const mould::Planes& own, double reach_m);
  void note_touch(int node, double load_m_s, double mid_dt_s, double steps);
  bool books_due(const StepContext& step) const;
  bool heat_due() const;
  void hang();
  void book_hang(double stored_J);
  double weighed_J() const;
  bool memory_due() const;
  void begin_memory();
  double reference_Pa() const;
  void tell_temperatures(FormingResult& result) const;
  bool frame_due(double time_s) const;
  bool row_due(double time_s) const;
  double next_row_s() const;
  void close_books();
  void note_rest();
  bool stands() const;
  void stand_until_row_or_frame();
  double sheet_J() const;
  void check_balance();
  void check_elements() const;
  Trouble trouble_with(int element) const;
  bool lies_on_mould(int node) const;
  void watch_peak();
  std::string stiffest_place() const;
  Ledger booked() const;
  double share_done() const;
  HistoryRow history_row() const;
  void send(const FormingSinks& sinks);
  const StageSpec& stage() const { return spec_.stages[static_cast<std::size_t>(snap_.stage)]; }

  const FormingSpec& spec_;
  const mould::RigidMould& mould_;
  Schedule schedule_;
  ContactScale scale_;
  LedgerTamper tamper_;
  std::optional<sheet::HotLaw> hot_law_;    ///< of the sheet as it forms, its glass capped; none: as the spec's law
  Snapshot snap_;                           ///< scalars, touch and ledger; x and v are in state_ while running
  sheet::SheetState state_;                 ///< masses scaled by snap_.mass_factor
  std::vector<double> true_mass_kg_;        ///< N
  std::vector<double> weight_N_;            ///< N, zero where the case leaves gravity out
  std::vector<mesh::Vec3> predicted_m_s_;   ///< N, velocity before the mould
  std::vector<mesh::Vec3> force_before_N_;  ///< N, membrane force one step ago; filled just before it is needed
  std::vector<mesh::Vec3> carried_m2_;      ///< N, part of the area vector whose gas the mould bears
  std::vector<mesh::Vec3> put_back_m_;      ///< N
  std::vector<mould::Neighbourhood> near_;  ///< N
  bool stood_ = false;                      ///< in the last turn of the loop
  std::vector<char> rests_;  ///< N, 1: it stuck and stood in the last step; saves time, changes no result
  Still still_;              ///< of what rests
  std::vector<double> triangle_thickness_m_;                       ///< M, for the heat step; filled where needed
  std::vector<double> heat_thickness_m_, contact_s_, effusivity_;  ///< N, likewise
  std::optional<AirUnderSheet> air_;
  std::vector<double> back_Pa_;            ///< N, of the air shut in below, above the outside; 0 where there is none
  std::vector<VolumeResponse> air_gives_;  ///< one a pocket
  std::vector<mesh::Vec3> air_v_m_s_;      ///< N, motion of the nodes over pockets before their new push
  std::vector<char> air_flags_, air_rim_;  ///< N, 1 = gives way; 1 = rim node that lies on the mould
  double air_rim_at_m_ = 0.0;              ///< height of the clamp that air_rim_ was looked up at
  std::optional<mould::Creases> creases_;
  CornerContact corners_;
  std::vector<double> flat_per_s_;  ///< M, what it is around each element of the flat sheet, for the true mass
  std::vector<Free> free_;          ///< one a full lot; saves time, changes no result
  const sheet::Kernels& kernels_;
  sheet::OrderedLots<sheet::GasSums> sum_gas_;
  sheet::OrderedLots<sheet::NodeSums> sum_nodes_;
  sheet::OrderedSum<StiffnessSums> sum_stiffness_;
  sheet::NodeSums last_sums_;
  double strain_before_J_ = 0.0, weighed_before_J_ = 0.0;
  std::optional<HistoryRow> last_row_;
  std::vector<StageTime> profile_;
};

}  // namespace pellicle::forming
