# Completion of rimeward for fish: to /usr/share/fish/vendor_completions.d/rimeward.fish or
# ~/.config/fish/completions/. The program itself says what fits.

function __rimeward_fits
    set -l typed (string replace -r '^~/' "$HOME/" -- (commandline -opc))
    set -l program $typed[1]
    set -e typed[1]
    set -l word (commandline -ct)
    for line in ($program --complete (count $typed) $typed "$word" 2>/dev/null)
        switch $line
            case :files
                __fish_complete_path (commandline -ct)
            case :done
            case '*'
                echo $line
        end
    end
end

complete -c rimeward -f -a '(__rimeward_fits)'
