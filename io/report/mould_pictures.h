// What does the page show of the printed mould? What it bears, coloured by triangle.
#pragma once

#include "mesh/triangle_mesh.h"
#include "solver/mould_answer.h"

#include <string>

namespace pellicle::report {

/// Two figures: share of the strength in use, hottest moment; the first alone where the heat is not known. Empty where
/// the run did not ask. Each list of `field` holds one value a triangle of the mould, or nothing.
std::string mould_figures(const mesh::TriangleMesh& mould, const MouldBodyField& field);

}  // namespace pellicle::report
