"""Lines for a shell that completes commands and options, made from the parser itself."""

from __future__ import annotations

import argparse

from .options import parser

HOW = {
    "bash": "# sealwright completion bash > ~/.local/share/bash-completion/completions/sealwright",
    "zsh": "# sealwright completion zsh > a folder of your fpath, under the name _sealwright",
    "fish": "# sealwright completion fish > ~/.config/fish/completions/sealwright.fish",
}


def completion(shell: str) -> str:
    """What a shell ("bash", "zsh" or "fish") is to be told."""
    told = {"bash": _bash, "zsh": _zsh, "fish": _fish}[shell]
    return "\n".join([HOW[shell], *told(_options())]) + "\n"


def _options() -> dict[str, dict[str, tuple[str, ...]]]:
    """By command: option -> what it can be; empty where anything can, as with file names."""
    subs = next(a for a in parser()._actions if isinstance(a, argparse._SubParsersAction))
    found: dict[str, dict[str, tuple[str, ...]]] = {}
    for name, command in subs.choices.items():
        found[name] = {}
        for action in command._actions:
            words = tuple(str(c) for c in action.choices or ())
            for option in action.option_strings or ([""] if words else []):
                found[name][option] = words
    return found


def _bash(known: dict[str, dict[str, tuple[str, ...]]]) -> list[str]:
    lines = [
        "_sealwright() {",
        '  local word="${COMP_WORDS[COMP_CWORD]}" before="${COMP_WORDS[COMP_CWORD-1]}" words=""',
        '  if [ "$COMP_CWORD" = 1 ]; then',
        f'    COMPREPLY=($(compgen -W "{" ".join(known)} --help --version" -- "$word")); return',
        "  fi",
        '  case "${COMP_WORDS[1]} $before" in',
    ]
    for name, options in known.items():
        for option, words in options.items():
            if option and words:
                lines.append(f'    "{name} {option}") words="{" ".join(words)}" ;;')
    lines += ["  esac", '  if [ -z "$words" ] && [[ "$word" == -* ]]; then', '    case "${COMP_WORDS[1]}" in']
    for name, options in known.items():
        lines.append(f'      {name}) words="{" ".join(o for o in options if o)}" ;;')
    lines += ["    esac", '  elif [ -z "$words" ]; then', '    case "${COMP_WORDS[1]}" in']
    lines += [
        f'      {name}) words="{" ".join(options[""])}" ;;'
        for name, options in known.items()
        if "" in options
    ]
    lines += ["    esac", "  fi", '  [ -n "$words" ] && COMPREPLY=($(compgen -W "$words" -- "$word"))', "}"]
    return [*lines, "complete -o default -F _sealwright sealwright"]


def _zsh(known: dict[str, dict[str, tuple[str, ...]]]) -> list[str]:
    lines = ["#compdef sealwright", "autoload -U +X bashcompinit && bashcompinit"]
    return [lines[0], lines[1], *_bash(known)]


def _fish(known: dict[str, dict[str, tuple[str, ...]]]) -> list[str]:
    lines = [f"complete -c sealwright -n __fish_use_subcommand -f -a '{' '.join(known)}'"]
    for name, options in known.items():
        seen = f"complete -c sealwright -n '__fish_seen_subcommand_from {name}'"
        for option, words in options.items():
            if not option:
                lines.append(f"{seen} -f -a '{' '.join(words)}'")
            elif option.startswith("--"):
                lines.append(f"{seen} -l {option[2:]}" + (f" -x -a '{' '.join(words)}'" if words else ""))
    return lines
