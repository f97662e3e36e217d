// What does a section at rest say: depth, pressures, the radius left in the corner?
#pragma once

#include "solver/imprint/section/section_model.h"

namespace pellicle::imprint {

/// Fills in all that follows from the final state; steps, snap and errors are the caller's.
void describe_section(const SectionModel& model, const SectionSheet& sheet, const Eigen::VectorXd& u,
                      SectionResult& result);

}  // namespace pellicle::imprint
