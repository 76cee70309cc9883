# Completion of rimeward for bash: to /usr/share/bash-completion/completions/rimeward, or
# read it from ~/.bashrc. The program itself says what fits; nothing else is needed.

_rimeward() {
  local line words=("${COMP_WORDS[@]:1}")
  COMPREPLY=()
  words=("${words[@]/#\~\//$HOME/}")
  while IFS= read -r line; do
    case $line in
      :files) compopt -o default 2>/dev/null ;;
      :done) ;;
      *) COMPREPLY+=("${line%%$'\t'*}") ;;
    esac
  done < <("${COMP_WORDS[0]/#\~\//$HOME/}" --complete $((COMP_CWORD - 1)) "${words[@]}" 2>/dev/null)
}

complete -F _rimeward rimeward
