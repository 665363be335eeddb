"""Two contracts for import-linter: packages are entered by their face, and the core imports nothing but what is listed.

The face of a package is its `__init__`, whose `__all__` names what is public. Where that names a module or a package
(`"model"`), outsiders may import from it too: a house whose rooms are public, and loaded only when they are entered.
"""

import ast
from importlib.util import find_spec
from pathlib import Path

from grimp import ImportGraph
from importlinter import Contract, ContractCheck, fields, output


def public_names(package: str) -> set[str] | None:
    """Give what a package's `__all__` names; None where it has none, or where the name is a module's."""
    spec = find_spec(package)
    if spec is None or spec.origin is None or not spec.submodule_search_locations:
        return None
    for node in ast.parse(Path(spec.origin).read_text(encoding="utf-8")).body:
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        if any(isinstance(target, ast.Name) and target.id == "__all__" for target in targets):
            return set(ast.literal_eval(node.value))
    return None


class FacesContract(Contract):
    """Whoever stands outside a package imports from its face alone."""

    root = fields.StringField()

    def check(self, graph: ImportGraph, verbose: bool) -> ContractCheck:
        """Collect the imports that go round a face, and the packages that have none."""
        modules = {module for module in graph.modules if module == self.root or module.startswith(f"{self.root}.")}
        packages = {module for module in modules if graph.find_children(module)} - {self.root}
        faces = {package: public_names(package) for package in packages}
        broken = [f"{package} has no __all__" for package, face in sorted(faces.items()) if face is None]
        for imported in sorted(modules - {self.root}):
            for importer in sorted(graph.find_modules_that_directly_import(imported) & modules):
                package = _walked_round(importer, imported, self.root, faces)
                if package:
                    broken.append(f"{importer} imports {imported}, which is not in the face of {package}")
        return ContractCheck(kept=not broken, metadata={"broken": broken})

    def render_broken_contract(self, check: ContractCheck) -> None:
        """Name each."""
        for line in check.metadata["broken"]:
            output.print_error(line)


def _walked_round(importer: str, imported: str, root: str, faces: dict[str, set[str] | None]) -> str:
    """Give the package whose face an import goes round, empty for none."""
    path = imported.split(".")
    for depth in range(len(root.split(".")) + 1, len(path)):
        package = ".".join(path[:depth])
        if importer == package or importer.startswith(f"{package}."):
            continue
        if path[depth] not in (faces.get(package) or set()):
            return package
    return ""


class AllowedContract(Contract):
    """What lies under `source` imports nothing from outside but the listed modules."""

    source = fields.StringField()
    allowed = fields.ListField(subfield=fields.StringField())

    def check(self, graph: ImportGraph, verbose: bool) -> ContractCheck:
        """Collect every import of something that is not listed, and whatever is listed and not imported."""
        allowed = set(self.allowed)  # type: ignore[call-overload]
        inside = [m for m in graph.modules if m == self.source or m.startswith(f"{self.source}.")]
        outside = {
            (importer, imported)
            for importer in inside
            for imported in graph.find_modules_directly_imported_by(importer)
            if not imported.startswith(f"{self.source}.") and imported != self.source
        }
        broken = [
            f"{importer} imports {imported}, which is not on the list"
            for importer, imported in sorted(outside)
            if imported not in allowed
        ]
        idle = allowed - {imported for _, imported in outside}
        broken += [f"{name} is on the list, and nothing imports it" for name in sorted(idle)]
        return ContractCheck(kept=not broken, metadata={"broken": broken})

    def render_broken_contract(self, check: ContractCheck) -> None:
        """Name each."""
        for line in check.metadata["broken"]:
            output.print_error(line)
