#include "firmware-host/sheet/keys.hpp"

#include <algorithm>
#include <array>

#include "firmware-host/sheet/nearest.hpp"

namespace hangtrue::sheet {
namespace {

using namespace form;
using enum Must;

constexpr auto kRun = SheetSort::run;
constexpr auto kKit = SheetSort::kit;
constexpr std::nullopt_t kNone = std::nullopt;

constexpr std::array kSections = {
    Section{kRun, "", "", true, "What the run is, and where it is read."},
    Section{kRun, "tolerance", "[tolerance]", false,
            "How level the finished run must be, and at which stage it counts as finished."},
    Section{kRun, "material.NAME", "[material.NAME]", false,
            "A material by a name of your own, which members refer to."},
    Section{kRun, "member", "[[member]]", true,
            "What carries: a beam, a rail, a panel. Every stretch of the run needs one."},
    Section{kRun, "load", "[[load]]", false,
            "What hangs on it or lies on it. Members' own weights are loads already, by the member's name."},
    Section{kRun, "support", "[[support]]", true,
            "What holds it: brackets, posts, rods, seats, and the lifts that are taken away again."},
    Section{kRun, "stage", "[[stage]]", true,
            "The steps of the work, in their order: what holds and what loads the run in each."},
    Section{kRun, "stock.NAME", "[stock.NAME]", false,
            "Shims that are there, by a name of your own, which supports refer to."},
    Section{kRun, "mark", "[[mark]]", false,
            "A stable mark off the run, by which heights are compared months later."},
    Section{kRun, "prior", "[prior]", false, "How sure the sheet's own figures are before anything is read."},
    Section{kKit, "instrument", "[[instrument]]", true,
            "An instrument, the line that it is on, and how it speaks."},
    Section{kKit, "instrument.channel", "[[instrument.channel]]", true,
            "One quantity that the instrument gives."},
};

constexpr std::array kKeys = {
    // The top of a run sheet.
    Key{kRun, "", "title", text, kNone, may, "", "", "\"Run\"", "", "",
        "What the run is called on card, page and record.", "title = \"Reading-room bridge shelf\""},
    Key{kRun, "", "show", word, kNone, may, "metric|imperial", "", "\"metric\"", "", "",
        "The units in which results are shown; what you write may be in any units.", "show = \"imperial\""},
    Key{kRun, "", "language", word, kNone, may, "en|de", "", "\"en\"", "", "",
        "The language of page, card and prints: English or German. Commands, files and what other programs "
        "read "
        "stay as they are; what is not translated yet is shown in English.",
        "language = \"de\""},
    Key{kRun, "", "length", quantity, Kind::length, always, "", "", "", "more than 0", "",
        "Length of the run. All places along it count from its start mark, the left end as you stand before "
        "it.",
        "length = \"4200 mm\""},
    Key{kRun, "", "width", quantity, Kind::length, may, "", "", "none: both edges are the middle",
        "more than 0", "",
        "Width across the run; its edges lie half of it to the left and to the right of the middle.",
        "width = \"380 mm\""},
    Key{kRun, "", "stations", table | quantities, Kind::length, may, "", "",
        "ten equal spaces over the length", "2 to 400 places on the run, each beyond the one before", "",
        "Where readings are taken and level is judged: a distance, or a list of places.",
        "stations = { every = \"300 mm\" }"},
    Key{kRun, "", "stations.every", quantity, Kind::length, always, "", "", "",
        "more than 0, and no more than 400 stations", "",
        "Distance from one station to the next; the end of the run is the last.",
        "stations = { every = \"300 mm\" }"},

    // [tolerance]
    Key{kRun, "tolerance", "level", quantity, Kind::length, always, "", "", "", "more than 0", "",
        "The level error that is allowed: highest minus lowest of both edges at all stations, finished and "
        "loaded.",
        "level = \"2 mm\""},
    Key{kRun, "tolerance", "stage", text, kNone, may, "", "", "the last stage", "the name of a stage", "",
        "The stage at which the run counts as finished.", "stage = \"in use\""},
    Key{kRun, "tolerance", "confidence", number | share, kNone, may, "", "", "0.95", "between 0 and 1", "",
        "How sure it must be that the finished run is within the tolerance, before it is called ready to "
        "bolt.",
        "confidence = 0.95"},
    Key{kRun, "tolerance", "span_ratio", number, kNone, may, "", "", "none is asked for", "more than 0", "",
        "Span over sag that is asked for; it is shown beside the sag of each span.", "span_ratio = 360"},
    Key{kRun, "tolerance", "source", text, kNone, may, "", "", "", "", "",
        "Where that span ratio comes from.", "span_ratio = 360\nsource = \"the architect's specification\""},
    Key{kRun, "tolerance", "target_height", quantity, Kind::length, may, "", "", "none: level alone counts",
        "", "",
        "The height at which the run is to lie, from its height as drawn, up. The level error is then twice "
        "the largest departure "
        "from it.",
        "target_height = \"0 mm\""},
    Key{kRun, "tolerance", "per", text, kNone, may, "", "", "none: level alone counts",
        "a length over a longer one, both with units", "",
        "How far a straight-edge of that length, laid along either edge over any stations, may depart at the "
        "stations between. It counts beside the level.",
        "per = \"2 mm over 2 m\""},
    Key{kRun, "tolerance", "after", text, kNone, may, "", "", "predict stops when the run is finished",
        "from a day to a hundred years", "",
        "How long after it is finished the run is to be level too: predict adds what its wood creeps by "
        "then. The "
        "card levels it for the day on which it is finished.",
        "after = \"1 year\""},

    // [material.NAME]
    Key{kRun, "material.NAME", "grade", text, kNone, may, "", "", "",
        "a class of EN 338 (C14 to C50, D18 to D80) or of EN 14080 (GL20h to GL32h, GL20c to GL32c)", "",
        "Strength class of a timber: gives E, G and density, each unless it is written too.",
        "grade = \"C24\"\nservice_class = 1"},
    Key{kRun, "material.NAME", "service_class", whole, kNone, depends, "",
        "where there is a grade, and neither k_def nor creep", "",
        "1 heated indoors, 2 under a roof, 3 outdoors", "k_def|creep",
        "Service class of EN 1995-1-1, by which a grade creeps.", "grade = \"GL24h\"\nservice_class = 2"},
    Key{kRun, "material.NAME", "E", quantity, Kind::stress, depends, "", "where there is no grade",
        "of the grade", "more than 0", "", "Modulus of elasticity along the run.", "E = \"210 GPa\""},
    Key{kRun, "material.NAME", "G", quantity, Kind::stress, depends, "", "where there is no grade",
        "of the grade", "more than 0, less than E", "",
        "Shear modulus: for steel about E/2.6, for wood about E/16.", "G = \"81 GPa\""},
    Key{kRun, "material.NAME", "density", quantity, Kind::density, depends, "", "where there is no grade",
        "of the grade", "more than 0", "", "Density, which gives a member its own weight.",
        "density = \"7850 kg/m3\""},
    Key{kRun, "material.NAME", "expansion", quantity, Kind::expansion, may, "", "",
        "none; a load with warmer_below needs one", "not negative", "", "Thermal expansion.",
        "expansion = \"12e-6 /K\""},
    Key{kRun, "material.NAME", "k_def", number, kNone, may, "", "", "0", "0 to 100", "creep|service_class",
        "Creep under lasting load: deformation grows to 1 + k_def times its first value.", "k_def = 0.6"},
    Key{kRun, "material.NAME", "creep", table, kNone, may, "", "", "none", "", "k_def|service_class",
        "Creep by EN 1995-1-1, Table 3.2, instead of a k_def of your own.",
        "creep = { material = \"plywood\", grade = \"Part 1\", service_class = 1 }"},
    Key{kRun, "material.NAME", "creep.material", text, kNone, always, "", "", "", "a material of that table",
        "", "The material as that table names it.",
        "creep = { material = \"solid timber\", service_class = 1 }"},
    Key{kRun, "material.NAME", "creep.grade", text, kNone, depends, "",
        "where the table has grades of that material", "", "a grade of that material", "",
        "Its grade as that table names it.",
        "creep = { material = \"particleboard\", grade = \"Part 5\", service_class = 1 }"},
    Key{kRun, "material.NAME", "creep.service_class", whole, kNone, always, "", "", "",
        "1, 2 or 3, one that the table has", "", "1 heated indoors, 2 under a roof, 3 outdoors.",
        "creep = { material = \"solid timber\", service_class = 2 }"},

    // [[member]]
    Key{kRun, "member", "name", text, kNone, always, "", "", "", "its own among members and loads", "",
        "Its name; its own weight goes by it in the stages' loads.", "name = \"spine\""},
    Key{kRun, "member", "from", quantity, Kind::length, always, "", "", "", "a place on the run", "",
        "Where it begins.", "from = \"0 mm\""},
    Key{kRun, "member", "to", quantity, Kind::length, always, "", "", "", "a place on the run, beyond from",
        "", "Where it ends.", "to = \"4200 mm\""},
    Key{kRun, "member", "material", text, kNone, depends, "", "but where shape = \"given\"", "",
        "the name of a material", "", "Its material, by the name in [material.NAME].",
        "material = \"steel\""},
    Key{kRun, "member", "section", text | table, kNone, always, "", "", "", "", "",
        "Its section: a shape with its sizes, or a designation: a hollow section (cold formed unless "
        "\"EN 10210\" stands behind it), or a channel \"UPE 80\" to \"UPE 400\" of EN 10365.",
        "section = \"RHS 180x80x6\""},
    Key{kRun, "member", "section.shape", word | text, kNone, always,
        "hollow rectangle|solid rectangle|round|tube|flat plate|angle|channel|given", "", "",
        "one of these, or a designation such as \"RHS 180x80x6\", whose sizes the other keys may overrule",
        "", "Shape of the section. A flat plate lies flat; given takes EI and GJ instead of sizes.",
        "section = { shape = \"solid rectangle\", depth = \"200 mm\", width = \"60 mm\" }"},
    Key{kRun, "member", "section.depth", quantity, Kind::length, depends, "",
        "hollow rectangle, solid rectangle, angle, channel", "", "more than 0", "", "Upright size, outside.",
        "section = { shape = \"solid rectangle\", depth = \"200 mm\", width = \"60 mm\" }"},
    Key{kRun, "member", "section.width", quantity, Kind::length, depends, "",
        "hollow rectangle, solid rectangle, flat plate, angle, channel", "", "more than 0", "",
        "Size across, outside.",
        "section = { shape = \"flat plate\", width = \"200 mm\", thickness = \"12 mm\" }"},
    Key{kRun, "member", "section.wall", quantity, Kind::length, depends, "", "hollow rectangle, tube", "",
        "more than 0, less than half the smaller side", "", "Thickness of the wall.",
        "section = { shape = \"tube\", diameter = \"60.3 mm\", wall = \"4 mm\" }"},
    Key{kRun, "member", "section.corner", quantity, Kind::length, may, "", "hollow rectangle", "0",
        "not negative, at most half the smaller side", "", "Outside radius of the corners.",
        "section = { shape = \"hollow rectangle\", depth = \"80 mm\", width = \"40 mm\", wall = \"4 mm\", "
        "corner = \"8 mm\" }"},
    Key{kRun, "member", "section.inside corner", quantity, Kind::length, may, "", "hollow rectangle",
        "corner less wall, or 0", "not negative", "section.inside_corner",
        "Inside radius of the corners; the key stands in quotes, or as inside_corner.",
        "section = { shape = \"hollow rectangle\", depth = \"80 mm\", width = \"40 mm\", wall = \"4 mm\", "
        "corner = \"8 mm\", "
        "\"inside corner\" = \"4 mm\" }"},
    Key{kRun, "member", "section.inside_corner", quantity, Kind::length, may, "", "hollow rectangle",
        "corner less wall, or 0", "not negative", "section.inside corner", "Inside radius of the corners.",
        "section = { shape = \"hollow rectangle\", depth = \"80 mm\", width = \"40 mm\", wall = \"4 mm\", "
        "corner = \"8 mm\", "
        "inside_corner = \"4 mm\" }"},
    Key{kRun, "member", "section.diameter", quantity, Kind::length, depends, "", "round, tube", "",
        "more than 0", "", "Outside diameter.", "section = { shape = \"round\", diameter = \"40 mm\" }"},
    Key{kRun, "member", "section.thickness", quantity, Kind::length, depends, "", "flat plate, angle", "",
        "more than 0", "", "Thickness of the plate, or of both legs of the angle.",
        "section = { shape = \"angle\", depth = \"100 mm\", width = \"75 mm\", thickness = \"8 mm\" }"},
    Key{kRun, "member", "section.web", quantity, Kind::length, depends, "", "channel", "", "more than 0", "",
        "Thickness of the upright web.",
        "section = { shape = \"channel\", depth = \"160 mm\", width = \"65 mm\", web = \"7.5 mm\", flange = "
        "\"10.5 mm\" }"},
    Key{kRun, "member", "section.flange", quantity, Kind::length, depends, "", "channel", "", "more than 0",
        "", "Thickness of the flanges.",
        "section = { shape = \"channel\", depth = \"160 mm\", width = \"65 mm\", web = \"7.5 mm\", flange = "
        "\"10.5 mm\" }"},
    Key{kRun, "member", "section.root", quantity, Kind::length, may, "", "channel", "0",
        "not negative, at most what the flange and half of the web leave room for", "",
        "Radius of the fillets where web and flanges meet.",
        "section = { shape = \"channel\", depth = \"160 mm\", width = \"65 mm\", web = \"7.5 mm\", flange = "
        "\"10.5 mm\", root = \"10.5 mm\" }"},
    Key{kRun, "member", "section.upright", word, kNone, may, "left|right", "angle, channel",
        "loads count from the member's own across", "", "",
        "On which side of the run its web or upright leg stands: there, outside the section, lies the shear "
        "centre about which it turns.",
        "section = { shape = \"channel\", depth = \"160 mm\", width = \"65 mm\", web = \"7.5 mm\", flange = "
        "\"10.5 mm\", upright = \"left\" }"},
    Key{kRun, "member", "section.shear_area", quantity, Kind::area, may, "", "every shape but given",
        "of the shape", "more than 0", "", "Shear area, where you know it better than the shape tells.",
        "section = { shape = \"solid rectangle\", depth = \"200 mm\", width = \"60 mm\", shear_area = \"100 "
        "cm2\" }"},
    Key{kRun, "member", "section.EI", quantity, Kind::flexural_rigidity, depends, "", "given", "",
        "more than 0", "", "Bending stiffness of the section.",
        "section = { shape = \"given\", EI = \"21 kN m2\", GJ = \"9 kN m2\", weight_per_length = \"12 kg/m\" "
        "}"},
    Key{kRun, "member", "section.GJ", quantity, Kind::flexural_rigidity, depends, "", "given", "",
        "more than 0", "", "Torsional stiffness of the section.",
        "section = { shape = \"given\", EI = \"21 kN m2\", GJ = \"9 kN m2\", weight_per_length = \"12 kg/m\" "
        "}"},
    Key{kRun, "member", "section.GA", quantity, Kind::force, may, "", "given", "stiff in shear",
        "more than 0", "", "Shear stiffness of the section.",
        "section = { shape = \"given\", EI = \"21 kN m2\", GJ = \"9 kN m2\", GA = \"9000 kN\", "
        "weight_per_length = \"12 kg/m\" }"},
    Key{kRun, "member", "section.EIw", quantity, Kind::warping_rigidity, may, "", "given", "it does not warp",
        "more than 0", "", "Stiffness of the section against warping, about its shear centre.",
        "section = { shape = \"given\", EI = \"21 kN m2\", GJ = \"9 kN m2\", EIw = \"0.4 kN m4\", "
        "weight_per_length = \"12 kg/m\" }"},
    Key{kRun, "member", "section.weight_per_length", quantity, Kind::weight_per_length, may, "", "given",
        "no weight of its own", "more than 0", "", "Own weight of the member.",
        "section = { shape = \"given\", EI = \"21 kN m2\", GJ = \"9 kN m2\", weight_per_length = \"12 kg/m\" "
        "}"},
    Key{kRun, "member", "acts", word, kNone, may, "side by side|as one", "", "\"side by side\"",
        "not as one where shape = \"given\"", "",
        "How members over one stretch carry together: side by side they add up, as one they are joined so "
        "that none slips on another.",
        "acts = \"side by side\""},
    Key{kRun, "member", "up", quantity, Kind::length, depends, "", "acts = \"as one\"", "", "", "",
        "Height of its centroid above a line of your choice, the same for all that act as one.",
        "acts = \"as one\"\nup = \"40 mm\""},
    Key{kRun, "member", "weight_sigma", number | share, kNone, may, "", "", "0.03", "between 0 and 1", "",
        "How sure its own weight is: one standard deviation, relative.", "weight_sigma = 0.03"},
    Key{kRun, "member", "across", quantity, Kind::length, may, "", "", "\"0 mm\"",
        "such that the axis of bending lies at one place across all along the run", "",
        "How far its centre lies from the middle of the run, to the left positive: members side by side "
        "resist "
        "twist by bending "
        "against one another.",
        "across = \"20 mm\""},

    // [[load]]
    Key{kRun, "load", "name", text, kNone, always, "", "", "", "its own among members and loads", "",
        "Its name, by which stages list it.", "name = \"carcasses\""},
    Key{kRun, "load", "from", quantity, Kind::length, depends, "", "where there is no at", "",
        "a place on the run", "at", "Where the stretch begins over which it is spread evenly.",
        "from = \"0 mm\""},
    Key{kRun, "load", "to", quantity, Kind::length, depends, "", "where there is no at", "",
        "a place on the run, beyond from", "at", "Where that stretch ends.", "to = \"4200 mm\""},
    Key{kRun, "load", "at", quantity, Kind::length, may, "", "", "from and to instead", "a place on the run",
        "from|to|depth|warmer_below", "The place of a load at a point.", "at = \"2100 mm\""},
    Key{kRun, "load", "mass", quantity, Kind::mass, may, "",
        "one of mass, weight, weight_per_length, couple, warmer_below", "", "more than 0",
        "weight|weight_per_length|couple|warmer_below", "Its mass, all of it.", "mass = \"62 kg\""},
    Key{kRun, "load", "weight", quantity, Kind::force, may, "", "likewise", "", "other than 0",
        "mass|weight_per_length|couple|warmer_below",
        "Its weight as a force, all of it; below 0: it pulls the run up.", "weight = \"600 N\""},
    Key{kRun, "load", "weight_per_length", quantity | pair, Kind::weight_per_length, may, "",
        "likewise, over a stretch", "", "other than 0; of two both down or both up, not both 0",
        "mass|weight|couple|warmer_below|at",
        "Its weight per length; a list of two is that at from and that at to, with an even slope between "
        "them.",
        "weight_per_length = \"145 N/m\""},
    Key{kRun, "load", "couple", quantity, Kind::couple, may, "", "likewise, at a point", "", "",
        "mass|weight|weight_per_length|warmer_below|from|to|across",
        "A couple in the sense of a positive slope.", "at = \"2100 mm\"\ncouple = \"120 N m\""},
    Key{kRun, "load", "warmer_below", quantity, Kind::temperature_difference, may, "",
        "likewise, over a stretch", "", "", "mass|weight|weight_per_length|couple|at|across|permanent",
        "By how much the lower side is warmer than the upper one; the members need an expansion.",
        "warmer_below = \"8 C\""},
    Key{kRun, "load", "depth", quantity, Kind::length, depends, "",
        "beside warmer_below, where a member's section is given", "of the members", "more than 0", "at",
        "Depth over which that difference lies.", "warmer_below = \"8 C\"\ndepth = \"180 mm\""},
    Key{kRun, "load", "across", quantity, Kind::length, may, "", "", "\"0 mm\"", "", "couple|warmer_below",
        "How far it lies from the middle of the run, to the left positive.", "across = \"20 mm\""},
    Key{kRun, "load", "sigma", number | share, kNone, may, "", "", "0.05", "between 0 and 1", "",
        "How sure it is: one standard deviation, relative.", "sigma = 0.05"},
    Key{kRun, "load", "permanent", number | share, kNone, may, "", "", "1", "0 to 1", "warmer_below",
        "The share of it that stays for years, and makes wood creep.", "permanent = 0.6"},

    // [[support]]
    Key{kRun, "support", "name", text, kNone, always, "", "", "", "its own among supports", "",
        "Its name, by which stages list it.", "name = \"wall bracket\""},
    Key{kRun, "support", "at", quantity, Kind::length, always, "", "", "", "a place on the run", "",
        "Where it holds the run.", "at = \"0 mm\""},
    Key{kRun, "support", "across", quantity, Kind::length, may, "", "", "\"0 mm\"",
        "to either side at most the run's width, or its length where it has no width", "",
        "How far it stands from the middle of the run, to the left positive: each of two rods side by side.",
        "across = \"150 mm\""},
    Key{kRun, "support", "rise", quantity | word, Kind::stiffness, always, "rigid|free", "", "",
        "more than 0", "",
        "What it holds against up and down: its stiffness. \"rigid\" is a claim, which readings may "
        "overturn.",
        "rise = \"12 kN/mm\""},
    Key{kRun, "support", "pitch", quantity | word, Kind::turning_stiffness, always, "rigid|free", "", "",
        "more than 0", "", "What it holds against turning along the run. A rod is free.",
        "pitch = \"18 kN m/rad\""},
    Key{kRun, "support", "roll", quantity | word, Kind::turning_stiffness, always, "rigid|free", "", "",
        "more than 0", "", "What it holds against turning about the run's own axis.",
        "roll = \"40 kN m/rad\""},
    Key{kRun, "support", "warping", word, kNone, may, "free|held", "", "\"free\"", "", "",
        "Whether it keeps the section there from warping, as a stiff end plate welded to a channel or to "
        "rails "
        "does.",
        "warping = \"held\""},
    Key{kRun, "support", "holds", word, kNone, may, "both|push|pull", "", "\"both\"",
        "both where it is free in rise", "",
        "Which way it can hold: push from below (a seat, a lift), pull from above (a rod), or both. One that "
        "pushes or pulls lets go "
        "where it would have to hold the run down.",
        "holds = \"push\""},
    Key{kRun, "support", "pulled_home", names, kNone, may, "rise|pitch|roll", "", "none",
        "motions that it holds; rise only where it holds both ways", "",
        "Motions in which its bolts draw the run home to it when it engages, instead of taking the run as it "
        "lies.",
        "pulled_home = [\"pitch\"]"},
    Key{kRun, "support", "bolt_rows", table, kNone, may, "", "", "none", "along, across or both", "",
        "Distance between the rows of its bolts, between which tapered stacks of shims act.",
        "bolt_rows = { along = \"120 mm\", across = \"150 mm\" }"},
    Key{kRun, "support", "bolt_rows.along", quantity, Kind::length, may, "", "", "none", "more than 0", "",
        "Between the rows along the run.", "bolt_rows = { along = \"120 mm\" }"},
    Key{kRun, "support", "bolt_rows.across", quantity, Kind::length, may, "", "", "none", "more than 0", "",
        "Between the rows across the run.", "bolt_rows = { across = \"150 mm\" }"},
    Key{kRun, "support", "rating", quantity, Kind::force, may, "", "", "none is checked", "more than 0", "",
        "The greatest force that it may carry, by who designed it. No run is called ready that exceeds it.",
        "rating = \"6 kN\""},
    Key{kRun, "support", "adjust", table, kNone, may, "", "", "it cannot be adjusted",
        "only where it holds rise", "", "How it can be set higher or lower.",
        "adjust = { by = \"lift\", step = \"1 mm\", rise = [\"-30 mm\", \"30 mm\"] }"},
    Key{kRun, "support", "adjust.by", word, kNone, always, "shims|rod|lift", "", "", "", "",
        "What it is adjusted by.", "adjust = { by = \"lift\", rise = [\"-30 mm\", \"30 mm\"] }"},
    Key{kRun, "support", "adjust.rise", pair, Kind::length, always, "", "", "", "the lower end first", "",
        "Its travel, counted from how it stands when the run is surveyed.",
        "adjust = { by = \"shims\", stock = \"van\", rise = [\"0 mm\", \"8 mm\"] }"},
    Key{kRun, "support", "adjust.stock", text, kNone, depends, "", "by = \"shims\"", "",
        "the name of a stock", "", "The shims that are there for it, by the name in [stock.NAME].",
        "adjust = { by = \"shims\", stock = \"van\", rise = [\"0 mm\", \"8 mm\"] }"},
    Key{kRun, "support", "adjust.pitch", flag, kNone, may, "", "by = \"shims\"", "false",
        "needs bolt_rows along", "", "Whether stacks may differ along the run, so that its pitch is set.",
        "bolt_rows = { along = \"120 mm\" }\nadjust = { by = \"shims\", stock = \"van\", rise = [\"0 mm\", "
        "\"8 mm\"], pitch = true }"},
    Key{kRun, "support", "adjust.roll", flag, kNone, may, "", "by = \"shims\"", "false",
        "needs bolt_rows across", "", "Whether stacks may differ across the run, so that its roll is set.",
        "bolt_rows = { across = \"150 mm\" }\nadjust = { by = \"shims\", stock = \"van\", rise = [\"0 mm\", "
        "\"8 mm\"], roll = true }"},
    Key{kRun, "support", "adjust.thread", quantity | text, Kind::length, depends, "", "by = \"rod\"", "",
        "more than 0", "",
        "Its thread by name, such as \"M12\" or \"1/2-13 UNC\", or the length that one turn moves.",
        "adjust = { by = \"rod\", thread = \"M12\", step = \"1/4 turn\", rise = [\"-10 mm\", \"10 mm\"] }"},
    Key{kRun, "support", "adjust.step", quantity, kNone, depends, "",
        "by = \"rod\", in turns; by = \"lift\", a length, \"1 mm\" unless said", "", "more than 0", "",
        "The smallest step in which it can be set.",
        "adjust = { by = \"rod\", thread = \"1.75 mm\", step = \"1/4 turn\", rise = [\"-10 mm\", \"10 mm\"] "
        "}"},
    Key{kRun, "support", "fit_up", quantity | table, Kind::length, may, "", "", "\"0.5 mm\"", "not negative",
        "",
        "How far its bolts may draw the run when they are tightened after the survey: one standard "
        "deviation, of rise alone or motion "
        "by motion.",
        "fit_up = { rise = \"0.5 mm\", pitch = \"0.5 mm/m\", roll = \"0.5 mm/m\" }"},
    Key{kRun, "support", "fit_up.rise", quantity, Kind::length, may, "", "", "\"0.5 mm\"", "not negative", "",
        "In rise.", "fit_up = { rise = \"1 mm\" }"},
    Key{kRun, "support", "fit_up.pitch", quantity, Kind::slope, may, "", "", "\"0.5 mm/m\"", "not negative",
        "", "In pitch.", "fit_up = { pitch = \"1 mm/m\" }"},
    Key{kRun, "support", "fit_up.roll", quantity, Kind::angle, may, "", "", "\"0.5 mm/m\"", "not negative",
        "", "In roll.", "fit_up = { roll = \"1 mm/m\" }"},
    Key{kRun, "support", "hangs", quantity, Kind::length, may, "", "", "its rod is taken to keep its length",
        "more than 0, at most 30 m; not where it pushes, or is free in rise", "stands",
        "Length of the rod by which it hangs from above. Warmer by a kelvin it is longer by expansion times "
        "that, and the "
        "run is so much lower there: taken off readings and rechecks, where temperatures are read.",
        "hangs = \"1.1 m\"\nexpansion = \"12e-6 /K\""},
    Key{kRun, "support", "stands", quantity, Kind::length, may, "", "",
        "its post is taken to keep its length",
        "more than 0, at most 30 m; not where it pulls, or is free in rise", "hangs",
        "Height of the post on the floor that it stands on. Warmer it is longer, and the run higher there; "
        "as hangs.",
        "stands = \"0.9 m\"\nexpansion = \"12e-6 /K\""},
    Key{kRun, "support", "material", text, kNone, depends, "",
        "beside hangs or stands, where there is no expansion", "",
        "a material of this sheet that has an expansion", "expansion", "What that rod or post is made of.",
        "hangs = \"1.1 m\"\nmaterial = \"steel\""},
    Key{kRun, "support", "expansion", quantity, Kind::expansion, depends, "",
        "beside hangs or stands, where there is no material", "of the material", "more than 0", "material",
        "Thermal expansion of that rod or post: of steel 12e-6 /K (EN 1993-1-1, 3.2.6), of aluminium 23e-6 "
        "/K "
        "(EN 1999-1-1, 3.2.5).",
        "hangs = \"1.1 m\"\nexpansion = \"12e-6 /K\""},
    Key{kRun, "support", "prior", table, kNone, may, "", "", "", "", "",
        "How far off it may stand, and how sure its stiffness is, before anything is read.",
        "prior = { rise = \"5 mm\", spring = 0.15 }"},
    Key{kRun, "support", "prior.rise", quantity, Kind::length, may, "", "", "\"20 mm\"", "more than 0", "",
        "How far off in rise, one standard deviation.", "prior = { rise = \"5 mm\" }"},
    Key{kRun, "support", "prior.pitch", quantity, Kind::slope, may, "", "", "\"0.02 rad\"", "more than 0", "",
        "How far off in pitch, one standard deviation.", "prior = { pitch = \"5 mm/m\" }"},
    Key{kRun, "support", "prior.roll", quantity, Kind::angle, may, "", "", "\"0.02 rad\"", "more than 0", "",
        "How far off in roll, one standard deviation.", "prior = { roll = \"5 mm/m\" }"},
    Key{kRun, "support", "prior.rise_mean", quantity, Kind::length, may, "", "", "\"0 mm\"", "", "",
        "Where it is expected in rise, from where the drawing has it.", "prior = { rise_mean = \"3 mm\" }"},
    Key{kRun, "support", "prior.pitch_mean", quantity, Kind::slope, may, "", "", "\"0 mm/m\"", "", "",
        "Where it is expected in pitch.", "prior = { pitch_mean = \"2 mm/m\" }"},
    Key{kRun, "support", "prior.roll_mean", quantity, Kind::angle, may, "", "", "\"0 mm/m\"", "", "",
        "Where it is expected in roll.", "prior = { roll_mean = \"2 mm/m\" }"},
    Key{kRun, "support", "prior.spring", number, kNone, may, "", "", "0.3", "between 0 and 10", "",
        "How sure its stiffness is: one standard deviation of the logarithm of its factor; 0.15 is about 15 "
        "%.",
        "prior = { spring = 0.15 }"},

    // [[stage]]
    Key{kRun, "stage", "name", text, kNone, always, "", "", "", "its own among stages", "", "Its name.",
        "name = \"in use\""},
    Key{kRun, "stage", "supports", names, kNone, always, "", "", "",
        "at least one; names of supports, each once", "",
        "What holds the run in this stage. A support takes the run as it lies when its stage begins.",
        "supports = [\"wall bracket\", \"east rod\"]"},
    Key{kRun, "stage", "loads", names, kNone, always, "", "", "", "names of loads and members, each once", "",
        "What loads the run in this stage; own weights by the member's name, from the first stage on.",
        "loads = [\"spine\", \"carcasses\"]"},

    // [stock.NAME]
    Key{kRun, "stock.NAME", "pieces", tables, kNone, always, "", "", "", "at least one", "",
        "The shims that are there, by thickness.",
        "pieces = [ { thickness = \"0.5 mm\", count = 12 }, { thickness = \"1 mm\", count = 12 } ]"},
    Key{kRun, "stock.NAME", "pieces.thickness", quantity, Kind::length, always, "", "", "",
        "more than 0, each once", "", "Thickness of a piece, written as on the piece.",
        "pieces = [ { thickness = \"1/16 in\", count = 12 } ]"},
    Key{kRun, "stock.NAME", "pieces.count", whole, kNone, always, "", "", "", "0 to 100000", "",
        "How many of them there are.", "pieces = [ { thickness = \"1 mm\", count = 12 } ]"},
    Key{kRun, "stock.NAME", "most", whole, kNone, may, "", "", "4", "1 to 100", "",
        "The most pieces in one stack.", "most = 3"},
    Key{kRun, "stock.NAME", "highest", quantity, Kind::length, may, "", "", "no limit of its own",
        "more than 0", "", "The greatest height of one stack.", "highest = \"10 mm\""},

    // [[mark]]
    Key{kRun, "mark", "name", text, kNone, always, "", "", "",
        "at most 60 characters, its own among marks, neither a length nor a number", "", "What it is called.",
        "name = \"lintel\""},
    Key{kRun, "mark", "at", quantity, Kind::length, always, "", "", "",
        "at most 100 m beyond either end of the run", "", "Where it lies along the run; beyond its ends too.",
        "at = \"-400 mm\""},

    // [prior]
    Key{kRun, "prior", "bending", number | share, kNone, may, "", "", "0.05", "between 0 and 1", "",
        "How sure the bending stiffness is: one standard deviation, relative.", "bending = 0.04"},
    Key{kRun, "prior", "torsion", number | share, kNone, may, "", "", "0.1", "between 0 and 1", "",
        "How sure the torsional stiffness is: one standard deviation, relative.", "torsion = 0.15"},
    Key{kRun, "prior", "bow", quantity, Kind::length, may, "", "", "\"1 mm\"", "more than 0", "",
        "How crooked the run may be without any load: one standard deviation of its first bow.",
        "bow = \"2 mm\""},
    Key{kRun, "prior", "bows", whole, kNone, may, "", "", "3", "0 to 4", "",
        "How many shapes of such a bow are looked for.", "bows = 2"},
    Key{kRun, "prior", "datum_height", quantity, Kind::length, may, "", "", "\"10 m\"", "more than 0", "",
        "How well the height of a laser is known when it is set up: one standard deviation.",
        "datum_height = \"5 m\""},
    Key{kRun, "prior", "datum_tilt", quantity, Kind::slope, may, "", "", "\"0.3 mm/m\"", "more than 0", "",
        "How level the laser's plane is: one standard deviation.", "datum_tilt = \"0.2 mm/m\""},

    // [[instrument]]
    Key{kKit, "instrument", "name", text, kNone, always, "", "", "", "its own among instruments", "",
        "Its name.", "name = \"walking inclinometer\""},
    Key{kKit, "instrument", "port", text, kNone, always, "", "", "",
        "shared only by xdr with xdr, or modbus with modbus, with the same settings", "",
        "The serial line that it is on; the names in /dev/serial/by-id stay the same.",
        "port = \"/dev/serial/by-id/my-inclinometer\""},
    Key{kKit, "instrument", "baud", whole, kNone, may, "", "", "9600",
        "300, 600, 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200, 230400, 460800 or 921600", "",
        "Speed of the line.", "baud = 19200"},
    Key{kKit, "instrument", "parity", word, kNone, may, "none|even|odd", "", "\"none\"", "", "",
        "Parity of the line.", "parity = \"even\""},
    Key{kKit, "instrument", "stop_bits", whole, kNone, may, "", "", "1", "1 or 2", "",
        "Stop bits of the line.", "stop_bits = 2"},
    Key{kKit, "instrument", "speaks", word, kNone, always, "xdr|modbus|line", "", "", "", "",
        "How it speaks: XDR sentences (NMEA 0183), Modbus RTU, or lines of text.", "speaks = \"xdr\""},
    Key{kKit, "instrument", "talker", text, kNone, may, "", "speaks = \"xdr\"", "any talker",
        "two capital letters", "", "The two letters before XDR, where several talkers share the line.",
        "talker = \"YX\""},
    Key{kKit, "instrument", "address", whole, kNone, depends, "", "speaks = \"modbus\"", "",
        "1 to 247, its own on the port", "", "Its Modbus address.", "address = 17"},
    Key{kKit, "instrument", "timeout", quantity, Kind::time, may, "", "speaks = \"modbus\"", "\"500 ms\"",
        "1 ms to 60 s", "", "How long an answer is waited for.", "timeout = \"300 ms\""},
    Key{kKit, "instrument", "retries", whole, kNone, may, "", "speaks = \"modbus\"", "2", "0 to 10", "",
        "How often it is asked again before it counts as not answering.", "retries = 3"},
    Key{kKit, "instrument", "ask", text, kNone, may, "", "speaks = \"line\"", "it sends by itself",
        "1 to 64 characters", "", "What is sent to it where it only answers when asked, line end and all.",
        "ask = \"D\\r\\n\""},
    Key{kKit, "instrument", "every", quantity, Kind::time, may, "", "speaks = \"modbus\", or line with ask",
        "\"100 ms\"", "10 ms to 60 s", "", "From one asking to the next.",
        "ask = \"D\\r\\n\"\nevery = \"200 ms\""},
    Key{kKit, "instrument", "calibration", table, kNone, may, "", "", "none is known", "", "",
        "Its calibration; one that is due is said.",
        "calibration = { date = 2026-09-14, due = 2027-09-14, certificate = \"A 1234\" }"},
    Key{kKit, "instrument", "calibration.date", date | text, kNone, may, "", "", "", "", "",
        "The day of the calibration.", "calibration = { date = 2026-09-14 }"},
    Key{kKit, "instrument", "calibration.due", date | text, kNone, may, "", "", "", "not before date", "",
        "The day when the next is due.", "calibration = { date = 2026-09-14, due = 2027-09-14 }"},
    Key{kKit, "instrument", "calibration.certificate", text, kNone, may, "", "", "", "", "",
        "Number of its certificate.", "calibration = { certificate = \"A 1234\" }"},

    // [[instrument.channel]]
    Key{kKit, "instrument.channel", "transducer", text, kNone, always, "", "", "",
        "modbus: input N or holding N, N from 0 to 65535; line: a pattern with {number}", "",
        "Where the value is: its name in the XDR sentence, its Modbus register, or the line of text with "
        "{number} in its place (and "
        "{unit} where the line says its unit).",
        "transducer = \"PITCH\""},
    Key{kKit, "instrument.channel", "gives", word, kNone, always, "slope|roll|distance|temperature|station",
        "", "", "each once in an instrument", "", "What the value is.", "gives = \"slope\""},
    Key{kKit, "instrument.channel", "within", flag, kNone, may, "", "speaks = \"line\"", "false", "", "",
        "Whether the pattern may be a part of the line; an error text that has the pattern in it then counts "
        "as a value.",
        "within = true"},
    Key{kKit, "instrument.channel", "type", word, kNone, may, "int16|uint16|int32|uint32|float32",
        "speaks = \"modbus\"", "\"int16\"", "", "", "What the register holds.", "type = \"int32\""},
    Key{kKit, "instrument.channel", "words", word, kNone, may, "high first|low first", "speaks = \"modbus\"",
        "\"high first\"", "", "", "Which of two registers comes first.", "words = \"low first\""},
    Key{kKit, "instrument.channel", "scale", number, kNone, may, "", "speaks = \"modbus\"", "1", "not 0", "",
        "What the register's number is multiplied by to be in unit.", "scale = 0.01"},
    Key{kKit, "instrument.channel", "unit", text, kNone, depends, "",
        "speaks = \"modbus\", or line without {unit}", "as the device says", "a unit of what it gives", "",
        "The unit of the value.", "unit = \"mm/m\""},
    Key{kKit, "instrument.channel", "sign", whole, kNone, may, "", "", "1", "1 or -1", "",
        "-1 where the device counts the other way: a slope is positive where the run climbs, a roll where "
        "its left edge is high.",
        "sign = -1"},
    Key{kKit, "instrument.channel", "range", pair, kNone, may, "", "", "45 degrees; 100 m",
        "the lower end first", "", "What it can measure; what lies outside is counted, not used.",
        "range = [\"-50 mm/m\", \"50 mm/m\"]"},
    Key{kKit, "instrument.channel", "base", quantity, Kind::length, may, "", "gives = \"slope\"", "\"0 mm\"",
        "not negative, no more than the run is long", "", "Distance between its feet.", "base = \"250 mm\""},
    Key{kKit, "instrument.channel", "sigma", quantity, kNone, depends, "",
        "but where it gives temperature or station", "", "more than 0", "",
        "One standard deviation of a settled reading: what your certificate, or repeated readings, say.",
        "sigma = \"0.02 mm/m\""},
    Key{kKit, "instrument.channel", "zero_sigma", quantity, kNone, may, "", "",
        "0.0003 rad; 0 for a distance", "not negative", "",
        "How far its zero may be off: one standard deviation.", "zero_sigma = \"0.3 mm/m\""},
    Key{kKit, "instrument.channel", "zero_keeps", quantity, kNone, may, "", "", "as sigma", "not negative",
        "", "How well a zero that was checked keeps until the next check: one standard deviation.",
        "zero_keeps = \"0.05 mm/m\""},
    Key{kKit, "instrument.channel", "settle", table, kNone, may, "", "", "", "", "",
        "When a reading counts as settled: its values stay within spread for the length of window.",
        "settle = { window = \"2 s\", spread = \"0.08 mm/m\" }"},
    Key{kKit, "instrument.channel", "settle.window", quantity, Kind::time, may, "", "", "\"2 s\"",
        "10 ms to 10 min", "", "How long it must keep still.", "settle = { window = \"1 s\" }"},
    Key{kKit, "instrument.channel", "settle.spread", quantity, kNone, may, "", "", "three times sigma",
        "more than 0", "", "Within what its values must stay.", "settle = { spread = \"0.08 mm/m\" }"},
    Key{kKit, "instrument.channel", "station", quantity | word, Kind::length, may, "walking", "",
        "\"walking\"", "a place on the run", "",
        "Where an instrument stands that stays; one that is carried from station to station is walking.",
        "station = \"2100 mm\""},
    Key{kKit, "instrument.channel", "edge", word, kNone, may, "left|middle|right", "", "\"middle\"", "", "",
        "At which edge of the run it reads, unless somebody says otherwise.", "edge = \"left\""},
    Key{kKit, "instrument.channel", "scale_checked", date, kNone, may, "", "",
        "not checked: no run is called ready to bolt by it", "without quotes", "",
        "The day on which you found its scale, unit and sign to be right, with a piece of known thickness or "
        "two places a known "
        "length apart.",
        "scale_checked = 2026-09-20"},
};

// "support[2].rise" without its number.
std::string without_numbers(std::string_view written) {
  std::string plain;
  bool inside = false;
  for (const char c : written) {
    inside = (inside || c == '[') && c != ']';
    if (!inside && c != ']' && c != '"') plain += c;
  }
  return plain;
}

// True where `written` is the path, or its end after a dot; NAME stands for any name.
bool means(const std::string& written, const Key& key) {
  const std::string path = key.path();
  const auto ends = [&](const std::string& whole) {
    return whole == written || (whole.size() > written.size() && whole.ends_with(written) &&
                                whole[whole.size() - written.size() - 1] == '.');
  };
  if (ends(path)) return true;
  const std::size_t name = path.find(".NAME.");
  if (name == std::string::npos || !written.starts_with(path.substr(0, name + 1))) return false;
  const std::string rest = path.substr(name + 5);  // ".E"
  return written.size() > name + 1 + rest.size() && written.ends_with(rest);
}

}  // namespace

std::string Key::path() const {
  return (section.empty() ? "" : std::string(section) + '.') + std::string(name);
}

std::span<const Section> sections() { return kSections; }
std::span<const Key> keys() { return kKeys; }

std::vector<std::string> parts(std::string_view joined) {
  std::vector<std::string> all;
  while (!joined.empty()) {
    const std::size_t end = joined.find('|');
    all.emplace_back(joined.substr(0, end));
    joined.remove_prefix(end == std::string_view::npos ? joined.size() : end + 1);
  }
  return all;
}

std::string value_words(const Key& key) {
  const std::string of = key.kind ? std::string(name(*key.kind)) : "a quantity";
  const std::string such = key.kind ? ", " + std::string(example(*key.kind)) : "";
  std::vector<std::string> choices;
  for (const std::string& each : parts(key.words)) choices.push_back('"' + each + '"');
  const auto add = [&](unsigned one, const std::string& words) {
    if ((key.forms & one) != 0) choices.push_back(words);
  };
  if ((key.forms & names) != 0) {
    std::string listed = "a list of names";
    for (std::size_t i = 0; i < choices.size(); ++i) listed += (i == 0 ? ", of " : ", ") + choices[i];
    choices = {listed};
  }
  add(text, "a text");
  add(quantity, of + " with its unit" + such);
  add(pair, "a list of two, each " + of + " with its unit" + such);
  add(quantities, "a list of several, each " + of + " with its unit");
  add(number, "a plain number");
  add(share, "a share in percent, such as \"5 %\"");
  add(whole, "a whole number");
  add(flag, "true or false");
  add(date, "a date, such as 2026-09-14");
  add(table, "a table");
  add(tables, "a list of tables");
  std::string all;
  for (std::size_t i = 0; i < choices.size(); ++i)
    all += (i == 0 ? "" : i + 1 < choices.size() ? ", " : " or ") + choices[i];
  return all;
}

std::vector<const Key*> keys_meant(std::string_view written) {
  std::string plain = without_numbers(written);
  std::optional<SheetSort> sort;
  for (const auto& [prefix, of] : {std::pair<std::string_view, SheetSort>{"run.", kRun}, {"kit.", kKit}})
    if (plain.starts_with(prefix)) {
      plain.erase(0, prefix.size());
      sort = of;
    }
  std::vector<const Key*> found;
  for (const Key& key : kKeys)
    if (!plain.empty() && (!sort || key.sheet == *sort) && means(plain, key)) found.push_back(&key);
  // A whole section by its name.
  for (const Section& section : kSections)
    if (!section.name.empty() && (!sort || section.sheet == *sort) &&
        (plain == section.name || std::string(section.name) == plain + ".NAME"))
      for (const Key& key : kKeys)
        if (key.sheet == section.sheet && key.section == section.name) found.push_back(&key);
  return found;
}

std::string nearest_key(std::string_view written) {
  std::vector<std::string> known;
  const std::string plain = without_numbers(written);
  for (const Key& key : kKeys) {
    known.push_back(key.path());
    known.push_back(std::string(key.name));
    known.push_back(std::string(key.name.substr(key.name.rfind('.') + 1)));
  }
  for (const Section& section : kSections) known.push_back(std::string(section.name));
  return nearest(plain, known);
}

}  // namespace hangtrue::sheet
