"""Run every benchmark and print one table."""

from benchmarks import bench_polling, draws, front_door, plan, soft_spin, spin_map, where_time_goes
from benchmarks.measured import Measured


def main() -> None:
    """Print what was promised beside what was measured."""
    rows: list[Measured] = [
        *soft_spin.measure(),
        *where_time_goes.measure(),
        *spin_map.measure(),
        *draws.measure(),
        *plan.measure(),
        *front_door.measure(),
        *bench_polling.measure(),
    ]
    width = max(len(row.what) for row in rows)
    print(f"{'what':{width}}  {'promised':>14}  {'measured':>12}")
    for row in rows:
        print(f"{row.what:{width}}  {row.promised:>14}  {row.measured:>12}  {row.verdict}")


if __name__ == "__main__":
    main()
