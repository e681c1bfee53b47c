# Completion of nodoff in bash: commands, options, files, and the words that
# options and marks may have.

# What each command takes, as OPTION or OPTION:VALUE. A value is `file`, `dir`,
# words with commas between them, or nothing that can be offered.
_nodoff_options() {
	case $1 in
	analyse) echo --vehicle:file --locked: --good:file --earlier:file --cars:dir --no-cars --json --full --ids \
		--strict \
		--color:always,never,auto --colour:always,never,auto ;;
	record) echo --vehicle:file --socket:file --json ;;
	live) echo --plain --json --look:dark,light --bell --socket:file ;;
	mark) echo --ago: --at: --undo --amend --socket:file ;;
	page) echo --on: --speed: --socket:file ;;
	wait) echo --for:sleep,wake,deadline --network: --bell --run: --json --socket:file ;;
	"vehicle draft") echo --out:file ;;
	"vehicle learn") echo --vehicle:file --merge --json ;;
	"vehicle import") echo --network: --interface: --into:file ;;
	timeline) echo --width: --ascii --unicode --vehicle:file --locked: --json ;;
	wakeups) echo --by: --network: --after: --before: --unexplained --vehicle:file --locked: \
		--json ;;
	history) echo --signal: --network: --vehicle:file --locked: --json ;;
	report) echo --out:file --before:file --good:file --cars:dir --no-cars --locked: \
		--vehicle:file ;;
	compare) echo --vehicle:file --json ;;
	"session make") echo --into:dir --locked: --locked-at-start --vehicle:file --title: ;;
	"session show") echo --json ;;
	"session mark") echo --ago: --at: --undo --socket:file ;;
	"session join") echo --into:dir --title: --json ;;
	"session cut") echo --from: --to: --into:dir --title: --scrub:payload,vin ;;
	bitrate) echo --seconds: --json ;;
	frames) echo --count --strict --json ;;
	"current show") echo --limit: --vehicle:file --wander: --locked: --json ;;
	"current import") echo --into:dir --column: --time-column: --unit: --clamp: --invert \
		--separator:comma,semicolon,tab,bar,blanks,none --decimal:comma,point \
		--time-unit:s,ms,min,h --start:locked --interval: --date: --zone: \
		--date-order:dmy,mdy --offset:find ;;
	fuses) echo --vehicle:file --readings:file --clamp: --clamp-off: --resolution: --json ;;
	pins) echo --high: --low: --ohms: --live --unpowered \
		--layer:high-speed,fault-tolerant,unknown --vehicle:file --network: --battery: \
		--load: --dominant: --resolution: --json ;;
	battery) echo --rest: --current: --current-off: --type:flooded,agm --capacity: --reserve: \
		--vehicle:file --temperature: --rested: --rest-off: --no-start: \
		--self-discharge: --json ;;
	gate) echo --tap --json --junit:file --jobs: --results:file --shard: --merge --update:dir \
		--yes ;;
	esac
}

_nodoff_commands="analyse record live mark page wait vehicle timeline wakeups history report compare
	session bitrate frames current fuses pins battery gate"

# The first words after a command, where they are fixed.
_nodoff_subcommands() {
	case $1 in
	record) echo start stop list status answer ;;
	vehicle) echo check draft learn import ;;
	session) echo make show mark cut join ;;
	current) echo show import ;;
	esac
}

_nodoff_kinds="locked unlocked door key ignition tester-on tester-off isolated refitted touched
	reading zeroed note"

# The value that an option of this command takes; fails when it takes none.
_nodoff_value() {
	local option

	for option in $(_nodoff_options "$1"); do
		if [[ ${option%%:*} == "$2" && $option == *:* ]]; then
			echo "${option#*:}"
			return 0
		fi
	done
	return 1
}

_nodoff_files() { # compgen's option, the beginning
	compopt -o filenames 2>/dev/null
	mapfile -t COMPREPLY < <(compgen "$1" -- "$2")
}

_nodoff_words() { # the words, the beginning
	mapfile -t COMPREPLY < <(compgen -W "$1" -- "$2")
}

_nodoff_offer_value() { # what the option takes, the beginning
	case $1 in
	file) _nodoff_files -f "$2" ;;
	dir) _nodoff_files -d "$2" ;;
	*) _nodoff_words "${1//,/ }" "$2" ;;
	esac
}

# Words after the command that are no options, up to the cursor. Values of
# options are left out.
_nodoff_count_operands() { # the command, the index of its first argument
	local i word count=0

	for ((i = $2; i < COMP_CWORD; i++)); do
		word=${COMP_WORDS[i]}
		if [[ ${COMP_WORDS[i + 1]} == "=" ]]; then
			((i += 2))
		elif _nodoff_value "$1" "$word" >/dev/null; then
			((i += 1))
		elif [[ $word != -* ]]; then
			((count += 1))
		fi
	done
	echo "$count"
}

_nodoff_offer_operand() { # the command, how many stand before it, the beginning
	case $1 in
	mark) (($2 == 0)) && _nodoff_words "$_nodoff_kinds nothing-done" "$3" ;;
	"session mark")
		case $2 in
		0) _nodoff_files -d "$3" ;;
		1) _nodoff_words "$_nodoff_kinds gap clock-step started stopped nothing-done undone not-listening" "$3" ;;
		esac ;;
	gate) _nodoff_files -d "$3" ;;
	bitrate)
		if (($2 == 0)); then
			_nodoff_words "$(cd /sys/class/net 2>/dev/null && echo *)" "$3"
		else
			_nodoff_words "500000 250000 125000 1000000 100000 83333 50000 33333" "$3"
		fi ;;
	history) (($2 == 0)) && _nodoff_files -f "$3" ;;
	record* | live | wait | fuses | pins | battery) ;;
	*) _nodoff_files -f "$3" ;;
	esac
}

_nodoff() {
	local cur=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]}
	local command=${COMP_WORDS[1]} first=2 sub value

	COMPREPLY=()
	if ((COMP_CWORD == 1)); then
		_nodoff_words "$_nodoff_commands help --help --version" "$cur"
		return
	fi
	sub=$(_nodoff_subcommands "$command")
	if [[ $sub ]] && ((COMP_CWORD == 2)); then
		_nodoff_words "$sub --help" "$cur"
		return
	fi
	if [[ $sub && $command != record ]]; then
		command="$command ${COMP_WORDS[2]}"
		first=3
	fi
	if [[ $cur == "=" ]]; then # --vehicle=car.yaml is three words
		cur=
	elif [[ $before == "=" ]]; then
		before=${COMP_WORDS[COMP_CWORD - 2]}
	fi
	if value=$(_nodoff_value "$command" "$before"); then
		_nodoff_offer_value "$value" "$cur"
	elif [[ $cur == -* ]]; then
		sub=--help
		for value in $(_nodoff_options "$command"); do
			sub+=" ${value%%:*}"
		done
		_nodoff_words "$sub" "$cur"
	else
		_nodoff_offer_operand "$command" "$(_nodoff_count_operands "$command" "$first")" "$cur"
	fi
}

complete -F _nodoff nodoff
