"""One process that applies a plan to a small card, or takes a change back: what the fault tests cut off.

Usage: fault_driver.py CARD_FOLDER SCENE. Exit: 0 done, else the exit code of the error, its kind on stderr.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parent))


def main() -> int:
    import fault_scenes

    from workbench.changes.apply import apply
    from workbench.errors import CardwrightError

    folder, scene = Path(sys.argv[1]), sys.argv[2]
    fault_scenes.set_limits(scene)
    card = fault_scenes.open_scene(folder)
    try:
        if scene.startswith("recover-"):
            from workbench.changes.recover import recover

            recover(card, "forward" if scene == "recover-forward" else "back")
        elif scene == "let-go":
            from workbench.changes.let_go import choose_all_but, let_go, plan_letting_go

            let_go(plan_letting_go(card, choose_all_but(0)))
        else:
            host = fault_scenes.host_of(folder) if scene == "keep" else None
            apply(card, fault_scenes.plan_of(scene, card), keep_on=host)
    except CardwrightError as error:
        print(error.kind, error.message, file=sys.stderr)
        return error.exit_code
    return 0


if __name__ == "__main__":
    sys.exit(main())
