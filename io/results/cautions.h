// What may hurt the person at the bench? One table for the terminal, the report and the README.
//
// Common practice; local codes and licensed practice come first.
#pragma once

#include <array>

namespace pellicle::results {

struct Caution {
  const char* brief;  ///< for the terminal
  const char* full;   ///< for a page
};

constexpr const char* kNoApproval = "Nothing here approves a mould, chamber or pressure; local codes come first.";

constexpr std::array<Caution, 7> kCautions{{
    {"Hot sheet sticks and burns: gloves, sleeves, goggles.",
     "Hot sheet sticks and burns: wear gloves, sleeves, goggles."},
    {"Gas under pressure: rated chamber, clamp and hoses, relief valve, shield; open at zero pressure only.",
     "Gas under pressure stores energy that grows with pressure and volume: use a rated chamber, clamp and hoses, a "
     "relief valve and a shield, and open at zero pressure only. Hollow moulds and pockets hold pressure too."},
    {"Cured resin may shatter: inspect, shield, retire chipped moulds.",
     "Cured resin is brittle and may shatter, more so when hot, thin or cracked: inspect, shield, retire chipped "
     "moulds."},
    {"Uncured resin harms skin and eyes: gloves, goggles, air flow.",
     "Uncured resin sensitises skin and harms eyes, and wash solvents burn: wear gloves and goggles, keep air flowing, "
     "cure hollows too, and treat waste by local rules."},
    {"Sand wet or with extraction, with a respirator.",
     "Sanding makes fine dust: work wet or extract it, and wear a respirator."},
    {"Fumes of overheated sheet, resin or release agent: ventilate.",
     "Overheated sheet, resin and release agents give off harmful fumes (PVC: hydrogen chloride): ventilate and stay "
     "below the upper temperature."},
    {"Food, skin or mouth contact needs its own assessment.",
     "Contact with food, skin or mouth needs its own assessment."},
}};

}  // namespace pellicle::results
