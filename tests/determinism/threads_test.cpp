// Does a formed sheet come out the same to the last bit whatever the number of threads? With most of it in contact.
#include "tests/solver/forming/small_run.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <cmath>
#include <cstdint>
#include <cstring>

namespace pellicle::forming {
namespace {

/// FNV-1a, 64 bits (Fowler, Noll, Vo; constants from memory): any changed bit changes it.
class Hash {
 public:
  template <class T>
  void add(const T& value) {
    unsigned char bytes[sizeof(T)];
    std::memcpy(bytes, &value, sizeof(T));
    for (const unsigned char byte : bytes) bits_ = (bits_ ^ byte) * 1099511628211ULL;
  }
  void add_vector(const mesh::Vec3& v) { add(v.x()), add(v.y()), add(v.z()); }
  std::uint64_t bits() const { return bits_; }

 private:
  std::uint64_t bits_ = 14695981039346656037ULL;
};

/// Field by field: the bytes between the fields have no meaning.
std::uint64_t hash_of(const Snapshot& s) {
  Hash h;
  for (const mesh::Vec3& x : s.x_m) h.add_vector(x);
  for (const mesh::Vec3& v : s.v_m_s) h.add_vector(v);
  for (const Touch& t : s.touch) {
    h.add_vector(t.anchor_m);
    h.add(t.first_s), h.add(t.pressure_since_Pa), h.add(t.contact_Pa);
    h.add(t.anchored), h.add(t.touching), h.add(t.pressed);
  }
  h.add(s.step), h.add(s.pressure_Pa), h.add(s.volume_m3);
  h.add(s.heat_s);
  if (s.heat)
    for (const auto* values : {&s.heat->sheet_K, &s.heat->mould_K, &s.heat->to_mould_J_m2, &s.heat->lost_above_J_m2})
      for (const sheet::HeatLanes& lanes : *values)
        for (const double value : lanes) h.add(value);
  if (s.memory)
    for (const auto& layer : s.memory->layers)
      for (const auto& lanes : layer.lanes)
        for (const double value : lanes.n11_per_m2) h.add(value);
  h.add(s.ledger.viscous_J), h.add(s.unseen_strain_J);
  return h.bits();
}

/// Share of the sheet's area that touches.
double contact_share(const Forming& forming, const Snapshot& s) {
  double area = 0.0, touched = 0.0;
  for (std::size_t i = 0; i < s.touch.size(); ++i) {
    const double own = forming.state().area_m2[i].norm();
    area += own;
    if (s.touch[i].touching) touched += own;
  }
  return touched / area;
}

struct Outcome {
  std::uint64_t hash;
  std::int64_t steps;
  double share;
};

/// From a seventh of a millimetre above a platform and a low disc on it, pressed until a third of the sheet lies down.
Outcome press_with(int threads, const Friction& friction, const FormingSpec& base, const mesh::SheetMesh& sheet) {
  const int before = omp_get_max_threads();
  omp_set_num_threads(threads);
  FormingSpec spec = base;
  spec.friction = friction;
  const mould::RigidMould mould(mesh::cylinder(0.02, 0.0, 0.12e-3, 64), true);
  Forming forming(spec, mould, sheet);
  FormingSinks sinks;
  int asked = 0;
  sinks.stop = [&] {
    constexpr int kMostAsked = 200;  // of 25 steps each: a run that finds no contact must not go on for ever
    return ++asked > kMostAsked || contact_share(forming, forming.snapshot()) > 0.35;
  };
  forming.run(sinks);
  omp_set_num_threads(before);
  const Snapshot s = forming.snapshot();
  return {hash_of(s), s.step, contact_share(forming, s)};
}

/// A polystyrene on resin.
HeatSpec hot() {
  HeatSpec heat{};
  heat.polymer = {0.165, 1800.0, 1040.0};
  heat.start_K = 413.15, heat.mould_K = 298.15, heat.mould_effusivity_Ws05_m2K = 668.0;
  return heat;
}

void expect_same_bits(const Friction& friction) {
  FormingSpec spec = disc_spec(0.1, 0.15e-3, 0.95e-3);
  spec.stages = {press(1e5)};
  spec.heat = hot();
  const mesh::SheetMesh sheet = mesh_of(spec);
  ASSERT_GE(sheet.triangles.size(), 20000U);  // many blocks of every ordered sum
  const Outcome one = press_with(1, friction, spec, sheet);
  EXPECT_GE(one.share, 0.30) << "without contact this says nothing";
  int checked = 0;
  for (const int threads : {2, 3}) {
    const Outcome many = press_with(threads, friction, spec, sheet);
    EXPECT_EQ(many.hash, one.hash) << threads << " threads";
    EXPECT_EQ(many.steps, one.steps);
    EXPECT_GE(many.share, 0.30);
    ++checked;
  }
  EXPECT_EQ(checked, 2);
}

TEST(Threads, DoNotChangeABitOfASheetThatSticks) { expect_same_bits({.stick = true, .coefficient = 0.0}); }

TEST(Threads, DoNotChangeABitOfASheetThatSlides) { expect_same_bits({.stick = false, .coefficient = 0.2}); }

TEST(Threads, DoNotChangeABitOfASheetThatIsRefinedOverEdges) {
  FormingSpec spec = disc_spec(0.06, 8e-3, 3e-3);
  spec.sheet.fine_element_m = 0.75e-3;
  spec.stages = {lower_to(4e-3), press(5e4)};
  spec.heat = hot();
  spec.heat->law = sheet::HotLaw{{0.1e6}, {}};
  spec.heat->law->relaxation.modes = {{0.2e6, 0.3}, {5e8, 1e-6}};
  const mould::RigidMould mould(mesh::box({-10e-3, -9e-3, 0.0}, {10e-3, 11e-3, 6e-3}), true);
  const int before = omp_get_max_threads();
  std::vector<std::uint64_t> hashes;
  for (const int threads : {1, 2, 3}) {
    omp_set_num_threads(threads);
    Forming forming(spec, mould, mesh_of(spec));
    ASSERT_TRUE(forming.run({}));
    EXPECT_GT(forming.state().elements(), 2 * static_cast<int>(mesh_of(spec).triangles.size()));
    hashes.push_back(hash_of(forming.snapshot()));
    EXPECT_GT(forming.snapshot().ledger.viscous_J, 0.0);
  }
  omp_set_num_threads(before);
  EXPECT_EQ(hashes[1], hashes[0]);
  EXPECT_EQ(hashes[2], hashes[0]);
}

TEST(Threads, AChangedBitChangesTheHash) {
  FormingSpec spec = disc_spec(0.02, 0.5e-3, 3e-3);
  spec.stages = {press(1e3)};
  spec.heat = hot();
  const mould::RigidMould platform(std::nullopt, true);
  const Snapshot s = Forming(spec, platform, mesh_of(spec)).snapshot();
  Snapshot moved = s, slower = s, touched = s, colder = s;
  moved.x_m[3].y() = std::nextafter(moved.x_m[3].y(), 1.0);
  slower.v_m_s[0].z() = 1e-300;
  touched.touch[5].touching = 1;
  colder.heat->sheet_K[2][3] = std::nextafter(colder.heat->sheet_K[2][3], 0.0);
  EXPECT_EQ(hash_of(s), hash_of(Snapshot(s)));
  EXPECT_NE(hash_of(s), hash_of(moved));
  EXPECT_NE(hash_of(s), hash_of(slower));
  EXPECT_NE(hash_of(s), hash_of(touched));
  EXPECT_NE(hash_of(s), hash_of(colder));
}

}  // namespace
}  // namespace pellicle::forming
