# Completion of nodoffd in bash: options, files, interfaces, groups.
_nodoffd() {
	local cur=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]} words

	COMPREPLY=()
	if [[ $cur == "=" ]]; then # --vehicle=car.yaml is three words
		cur=
	elif [[ $before == "=" ]]; then
		before=${COMP_WORDS[COMP_CWORD - 2]}
	fi
	case $before in
	-v | --vehicle | -s | --socket | -c | --current)
		compopt -o filenames 2>/dev/null
		mapfile -t COMPREPLY < <(compgen -f -- "$cur")
		return ;;
	-d | --sessions)
		compopt -o filenames 2>/dev/null
		mapfile -t COMPREPLY < <(compgen -d -- "$cur")
		return ;;
	-i | --interface) words=$(cd /sys/class/net 2>/dev/null && echo *) ;;
	-g | --group)
		mapfile -t COMPREPLY < <(compgen -g -- "$cur")
		return ;;
	-u | --user)
		mapfile -t COMPREPLY < <(compgen -u -- "$cur")
		return ;;
	*) words="--vehicle --interface --socket --group --user --sessions --current --no-record --help
		--version" ;;
	esac
	mapfile -t COMPREPLY < <(compgen -W "$words" -- "$cur")
}

complete -F _nodoffd nodoffd
