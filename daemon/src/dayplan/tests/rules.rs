//! The published rules, against examples whose answers are known.

use super::super::baseline::order_by;
use super::super::kernel::Kernel;
use super::*;

/// One operation a sheet, no handling: the textbook's single machine.
fn job(id: &str, minutes: u32, due: u32, weight: f64) -> Sheet {
    let operations = vec![alone("x", minutes, "a")];
    Sheet { id: SheetId::from(id), load: Minutes(0), cleanup: Minutes(0), due: Some(Minute(due)), weight, operations }
}

/// Instance 1 of `wt40` in J. E. Beasley's OR-Library (weighted tardiness, one machine, no setups): minutes, weights,
/// due times.
const WT40: [[u32; 40]; 3] = [
    [
        26, 24, 79, 46, 32, 35, 73, 74, 14, 67, 86, 46, 78, 40, 29, 94, 64, 27, 90, 55, 35, 52, 36, 69, 85, 95, 14, 78,
        37, 86, 44, 28, 39, 12, 30, 68, 70, 9, 49, 50,
    ],
    [
        1, 10, 9, 10, 10, 4, 3, 2, 10, 3, 7, 3, 1, 3, 10, 4, 7, 7, 4, 7, 5, 3, 5, 4, 9, 5, 2, 8, 10, 4, 7, 4, 9, 5, 7,
        7, 5, 10, 1, 3,
    ],
    [
        1588, 1620, 1731, 1773, 1694, 1487, 1566, 1844, 1727, 1636, 1599, 1539, 1855, 1645, 1709, 1660, 1582, 1836,
        1484, 1559, 1772, 1510, 1512, 1795, 1522, 1509, 1598, 1658, 1826, 1628, 1650, 1833, 1627, 1528, 1541, 1497,
        1481, 1446, 1579, 1814,
    ],
];

fn wt40() -> Problem {
    let [minutes, weights, dues] = WT40;
    let jobs = (0..40).map(|i| job(&format!("{}", i + 1), minutes[i], dues[i], f64::from(weights[i]))).collect();
    problem(&[(0, 10_000)], jobs)
}

#[test]
fn the_published_optimum_of_forty_jobs_is_reached() {
    // optimum 913 (OR-Library, file wtopt40)
    let plan = plan(&wt40(), None, 1, &mut Evaluations(400_000)).unwrap();
    assert_eq!(plan.schedule.objective.weighted_tardiness(), 913.0);
}

#[test]
fn due_first_costs_what_it_costs() {
    // 1588, computed from the published data by a separate program
    let schedule = by_rule(&wt40(), Rule::DueFirst).unwrap();
    assert_eq!(schedule.objective.weighted_tardiness(), 1588.0);
}

#[test]
fn apparent_tardiness_cost_picks_by_its_index() {
    // Pinedo, Scheduling, ch. 14, the four-job example (data recalled), without its setups: p 13 9 13 10, d 12 37 21 22,
    // w 2 4 2 5. At 0 with k1 = 5, p_mean 11.25: 0.1538 0.2704 0.1334 0.4039; at 10: - 0.3230 0.1538 -; so 4 2 then 1 3.
    let rows = [(13, 12, 2.0), (9, 37, 4.0), (13, 21, 2.0), (10, 22, 5.0)];
    let jobs = rows.iter().enumerate().map(|(i, (p, d, w))| job(&format!("{}", i + 1), *p, *d, *w)).collect();
    let schedule = by_rule(&problem(&[(0, 1000)], jobs), Rule::TardinessCost { k1: 5.0, k2: 0.7 }).unwrap();
    let order: Vec<_> = schedule.blocks.iter().map(|b| b.sheet.0.as_str()).collect();
    assert_eq!(order, ["4", "2", "1", "3"]);
}

#[test]
fn a_setup_lowers_the_index() {
    let mut other = job("other", 10, 100, 1.0);
    other.operations[0].bit = BitName::from("b");
    let same = job("same", 10, 100, 1.0);
    let problem = problem(&[(0, 1000)], vec![other, same]);
    let kernel = Kernel::new(&problem).unwrap();
    let order = order_by(&kernel, 0, Rule::TardinessCost { k1: 2.0, k2: 0.5 });
    assert_eq!(order[0].sheet, 1);
    assert_eq!(order_by(&kernel, 0, Rule::DueFirst)[0].sheet, 0);
    assert_eq!(order_by(&kernel, 0, Rule::DueFirstSameBit)[0].sheet, 1);
}
