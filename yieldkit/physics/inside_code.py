"""Compiling for the two places that call a solver: Python, and the code of another solver.

What only other solvers call becomes a part of theirs: it is optimised and made machine code there,
with all around it, so that to do the same for it alone would be thrown away. Nothing is optimised
or made machine code before it stands in a solver that Python calls.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import llvmlite.binding as llvm
from numba import _dynfunc  # type: ignore[attr-defined]  # it is written in C
from numba.core.caching import CompileResultCacheImpl
from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import Compiler, CompileResult
from numba.core.compiler_machinery import LoweringPass, PassManager, register_pass
from numba.core.typed_passes import (
    AnnotateTypes,
    IRLegalization,
    NativeLowering,
    NoPythonBackend,
    NopythonRewrites,
    NopythonTypeInference,
    PreLowerStripPhis,
)
from numba.core.untyped_passes import (
    FixupArgs,
    GenericRewrites,
    IRProcessing,
    ReconstructSSA,
    RewriteSemanticConstants,
    TranslateByteCode,
)

from yieldkit.physics.borrowed_arrays import refuse_uncounted


class InsideCode(JITCodeLibrary):
    """The code of a function that only other solvers call, before it is optimised."""

    def finalize(self) -> None:
        """Let nothing more be added; what is to be made of it is made where it is called."""
        self._raise_if_finalized()
        self._finalize_dynamic_globals()
        self._finalized = True

    def serialize_using_object_code(self) -> tuple[str, str, bytes]:
        """Return its name, and its code with all that it calls."""
        whole = self._get_module_for_linking().clone()
        for code in _called_after_callers(self._linking_libraries):
            whole.link_in(code._get_module_for_linking(), preserve=True)
        return self.name, "bitcode", whole.as_bitcode()

    @classmethod
    def kept(cls, codegen: Any, state: tuple[str, str, bytes]) -> InsideCode:
        """Return the code that was kept under a name."""
        name, _, bitcode = state
        code = cls(codegen, name)
        code._final_module = llvm.parse_bitcode(bitcode)
        code._ensure_finalized()
        return code


class WholeCode(JITCodeLibrary):
    """The machine code of a function that Python calls, with all that it calls."""

    counts = True
    """Whether who holds an array is counted anywhere in it."""

    def finalize(self) -> None:
        """Add what is called, optimise everything together and make machine code of it."""
        self._linking_libraries = _called_after_callers(self._linking_libraries)
        super().finalize()

    def _optimize_final_module(self) -> None:
        """Optimise, without what numba first does to bring counts together where there are none."""
        if self.counts:
            super()._optimize_final_module()
            return
        passes, builder = self._codegen._module_pass_manager()
        passes.run(self._final_module, builder)


def _called_after_callers(libraries: Iterable[Any]) -> list[Any]:
    """Return libraries and all they call, callers first: only what is called yet can be added."""
    found: dict[Any, None] = {}

    def visit(library: Any) -> None:
        if library in found:
            return
        if isinstance(library, InsideCode):
            for called in library._linking_libraries:
                visit(called)
        found[library] = None

    for library in libraries:
        visit(library)
    return list(found)[::-1]


@register_pass(mutates_CFG=False, analysis_only=False)
class _TakeInside(LoweringPass):
    """Make a function known to those that call it, though there is no machine code of it."""

    _name = "take_inside"

    def __init__(self) -> None:
        LoweringPass.__init__(self)

    def run_pass(self, state: Any) -> bool:
        """Put what stands for the function beside its code."""
        lowered = state.cr
        stands_for_it = _stands_for(lowered.fndesc, lowered.env, state.library)
        state.targetctx.insert_user_function(stands_for_it, lowered.fndesc, [state.library])
        state.cr = lowered._replace(cfunc=stands_for_it)
        return True


def _stands_for(description: Any, environment: Any, library: Any) -> Any:
    """Return what numba names a function by: one for Python, which leads nowhere."""
    name = description.qualname.split(".")[-1]
    return _dynfunc.make_function(
        description.lookup_module(), name, "called from within", 0, environment, (library,)
    )


def _steps(*first: type[Any]) -> list[Any]:
    """Return the steps of a compilation: numba's own but those for what no solver of ours has.

    That is blocks of `with`, closures, values of other types by branch, literals that are unrolled,
    loops in parallel: each would search every function for them.

    Parameters
    ----------
    first : type
        Steps between the code and what is made of it.
    """
    found = PassManager("solver")
    untyped: tuple[Any, ...] = (
        TranslateByteCode,
        FixupArgs,
        IRProcessing,
        RewriteSemanticConstants,
        GenericRewrites,
        ReconstructSSA,
    )
    typed: tuple[Any, ...] = (NopythonTypeInference, PreLowerStripPhis, NopythonRewrites)
    lowered: tuple[Any, ...] = (
        IRLegalization,
        AnnotateTypes,
        NativeLowering,
        *first,
        NoPythonBackend,
    )
    for step in (*untyped, *typed, *lowered):
        found.add_pass(step, step.__name__)
    found.finalize()
    return [found]


class _SolverCompiler(Compiler):
    """Compiles a function that borrows its arrays, or owns some."""

    def define_pipelines(self) -> list[Any]:
        """Return the steps."""
        return _steps()

    def compile_extra(self, func: Callable[..., Any]) -> Any:
        """Compile a function, and refuse one that would lose count of its arrays."""
        made = super().compile_extra(func)
        refuse_uncounted(func, made)
        return made


class CompilerForPython(_SolverCompiler):
    """Compiles a function that Python calls, with all that it calls."""

    def __init__(self, typingctx: Any, targetctx: Any, library: Any, *described: Any) -> None:
        super().__init__(typingctx, targetctx, library, *described)
        self.state.library = WholeCode(self.state.targetctx.codegen(), "called from Python")
        self.state.library.enable_object_caching()
        self.state.library.counts = bool(self.state.flags.nrt)


class CompilerForInside(_SolverCompiler):
    """Compiles a function that only other solvers call, as far as that is of use to them."""

    def __init__(
        self,
        typingctx: Any,
        targetctx: Any,
        library: Any,
        args: Any,
        return_type: Any,
        flags: Any,
        locals_: Any,
    ) -> None:
        flags = flags.copy()
        flags.no_compile = True
        super().__init__(typingctx, targetctx, library, args, return_type, flags, locals_)
        self.state.library = InsideCode(self.state.targetctx.codegen(), "called from within")

    def define_pipelines(self) -> list[Any]:
        """Return the steps, and that which makes a function known without machine code."""
        return _steps(_TakeInside)


class InsideCodeOnDisk(CompileResultCacheImpl):
    """How a function that only other solvers call is kept on disk: as the code that they take."""

    def rebuild(self, target_context: Any, payload: tuple[Any, ...]) -> Any:
        """Return the function again, known by what stands for it."""
        kept, description, environment, signature, *_ = payload
        library = InsideCode.kept(target_context.codegen(), kept)
        result: Any = CompileResult
        return result(
            typing_context=target_context.typing_context,
            target_context=target_context,
            entry_point=_stands_for(description, environment, library),
            typing_error=None,
            type_annotation=None,
            signature=signature,
            objectmode=False,
            lifted=(),
            fndesc=description,
            library=library,
            call_helper=None,
            environment=environment,
            metadata=None,
            reload_init=(),
            referenced_envs=(),
        )
