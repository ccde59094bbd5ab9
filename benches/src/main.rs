//! Speed on published classes of instances, every answer verified and compared.

mod big;
mod ceilings;
mod class_file;
mod classes;
mod generated;
mod hard;
mod judged;
mod lines;
mod offcuts;
mod peak;
mod phase;
mod plot;
mod rival;
mod run;
mod scale;
mod seeds;
mod setups;
mod smoke;
mod stops;
mod trade;
mod versus;
mod walls;

use std::process::ExitCode;

use clap::Parser;

/// Measures how fast plans are made and proven. Times are those of planning alone: neither
/// reading nor verifying counts. One instance at a time, on one thread.
#[derive(Parser)]
enum Command {
    /// Solve the instances of class files and compare with the optima in them.
    Classes(classes::Arguments),
    /// Solve one very large job.
    Big(big::Arguments),
    /// Solve generated instances, quickly: exits with 1 on any wrong answer.
    Smoke(smoke::Arguments),
    /// Solve the same jobs here and with an arc-flow model in HiGHS, in one run.
    Versus(versus::Arguments),
    /// Solve generated jobs as they come up in the trade.
    Trade(trade::Arguments),
    /// Plan walls of forty runs beside other pieces.
    Runs(walls::RunsArguments),
    /// Plan courses whose joints must not lie above each other.
    Courses(walls::CoursesArguments),
    /// Solve generated instances without waste.
    Hard(hard::Arguments),
    /// Plan jobs with and without the wish for few setups.
    Setups(setups::Arguments),
    /// Plan jobs and tell what is proven of their offcuts.
    Offcuts(offcuts::Arguments),
    /// Plan jobs of tenfold growing size.
    Scale(scale::Arguments),
    /// Measure how late a search notices that its time is up: exits with 1 above 0.2 s.
    Stops(stops::Arguments),
    /// Run the program at each of its ceilings: exits with 1 where one takes too much.
    Ceilings(ceilings::Arguments),
}

fn main() -> ExitCode {
    let command = Command::parse();
    println!("commit {}", run::commit().as_deref().unwrap_or("not known"));
    let outcome = match command {
        Command::Classes(arguments) => classes::run(&arguments),
        Command::Big(arguments) => big::run(&arguments),
        Command::Smoke(arguments) => smoke::run(&arguments),
        Command::Versus(arguments) => versus::run(&arguments),
        Command::Trade(arguments) => trade::run(&arguments),
        Command::Runs(arguments) => walls::run_runs(&arguments),
        Command::Courses(arguments) => walls::run_courses(&arguments),
        Command::Hard(arguments) => hard::run(&arguments),
        Command::Setups(arguments) => setups::run(&arguments),
        Command::Offcuts(arguments) => offcuts::run(&arguments),
        Command::Scale(arguments) => scale::run(&arguments),
        Command::Stops(arguments) => stops::run(&arguments),
        Command::Ceilings(arguments) => ceilings::run(&arguments),
    };
    match outcome {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::from(1),
        Err(message) => {
            eprintln!("{message}");
            ExitCode::from(2)
        }
    }
}
